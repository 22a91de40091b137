"""What was made to be listened to, without the sound."""

from dataclasses import dataclass

from advisor.measuring.measured import Failure


@dataclass(frozen=True, slots=True)
class Clips:
    """The two files of one step.

    Which seconds of the song they hold, their common loudness, and whether they sound the same.
    """

    before: str
    after: str
    start_s: float
    end_s: float
    lufs: float
    same: bool


@dataclass(frozen=True, slots=True)
class Audition:
    """The clips of each step and the marked copy.

    With its markers, and what the reader should know.
    """

    clips: tuple[Clips | None, ...] = ()
    marked: str | None = None
    cues: int = 0
    notes: tuple[str, ...] = ()
    failures: tuple[Failure, ...] = ()
