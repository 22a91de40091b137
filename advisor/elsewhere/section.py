"""Puts what is left elsewhere into the report's part."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from advisor.elsewhere.clips import ElsewhereClip, elsewhere_clips
from advisor.measuring.measured import Failure, Measured
from advisor.report_model.elsewhere import ListeningPlace
from features.elsewhere.conditions import DESK, Condition
from features.records.base import Measurement
from features.records.ear import Elsewhere, SongElsewhere
from features.records.level import Level
from features.records.sections import Sections
from features.sound.signal import Source


@dataclass(frozen=True, slots=True)
class ElsewhereClips:
    """The clips of the listening conditions, and what failed."""

    clips: tuple[ElsewhereClip, ...] = ()
    failures: tuple[Failure, ...] = ()


NO_CLIPS = ElsewhereClips()


def clips_of(source: Source, measured: Measured, conditions: Sequence[Condition], folder: Path) -> ElsewhereClips:
    """Write the clips into ``folder``.

    A crash costs the clips, not the critique. Raises OSError.
    """
    sections, level = measured.records.get(Sections), measured.records.get(Level)
    densest = sections.densest if isinstance(sections, Sections) else None
    try:
        return ElsewhereClips(elsewhere_clips(source, conditions, densest, level if isinstance(level, Level) else None, folder))
    except OSError:
        raise
    except Exception as error:  # noqa: BLE001 - told in the report
        return ElsewhereClips((), (Failure("audition/elsewhere", f"{type(error).__name__}: {error}"),))


def listening_places(
    records: Mapping[type[Measurement], Measurement], clips: Sequence[ElsewhereClip] = ()
) -> tuple[ListeningPlace, ...] | None:
    """Return every condition with its clip.

    None where no condition was chosen or measured.
    """
    measured = records.get(Elsewhere)
    if not isinstance(measured, Elsewhere) or not measured.conditions:
        return None
    by_condition = {clip.condition: clip for clip in clips}
    desk = by_condition.get(DESK.key)
    return tuple(_place(there, measured.songs, by_condition.get(there.condition), desk) for there in measured.conditions)


def _place(there: SongElsewhere, songs: int, clip: ElsewhereClip | None, desk: ElsewhereClip | None) -> ListeningPlace:
    if clip is None or desk is None:
        return ListeningPlace(there, songs)
    return ListeningPlace(there, songs, clip.file, desk.file, clip.start_s, clip.end_s)
