"""What is left of the song elsewhere."""

from dataclasses import dataclass
from typing import Annotated

from advisor.report_model.shapes import stated
from features.records.ear import SongElsewhere

ClipPath = Annotated[str, stated(pattern=r"^audition/elsewhere/[a-z0-9][a-z0-9_-]*\.(flac|wav)$")]


@dataclass(frozen=True, slots=True)
class ListeningPlace:
    """A listening condition: its readings, and its clip.

    ``desk_clip`` is the same stretch on full-range speakers, equally loud.
    """

    readings: SongElsewhere
    compared_with: int  # references; 0 for songs in general
    clip: ClipPath | None = None
    desk_clip: ClipPath | None = None
    start_s: float | None = None  # of both clips, in the song
    end_s: float | None = None
