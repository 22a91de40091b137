"""What differs between two bounces beyond its reporting step.

Readings, bands, and stretches of the song, at matched loudness.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from advisor.history.reading import reading, record_of
from advisor.history.story import reading_change
from advisor.judging.reporting import BAND_STEP_DB, COURSE_STEP_LU, all_compared_readings
from advisor.report_model.comparison import ChangedBand, ChangedStretch, ReadingOfBoth
from advisor.report_model.report import Report
from features.records.base import Course
from features.records.level import Level
from features.records.spectrum import Spectrum

HALF_THIRD = 10.0**0.05
QUIET_DB = -45.0  # against the loudest band (power per Hz): nothing is heard there
ALIKE_DB = 1.5  # neighbouring bands that changed by more than this from one another are told apart
LEAST_S = 3.0
MOST_STRETCHES = 5


def readings(earlier: Report, later: Report) -> tuple[ReadingOfBoth, ...]:
    """Return every reading that changed beyond its reporting step."""
    changes = ((compared, reading_change(compared, earlier, later)) for compared in all_compared_readings())
    return tuple(
        ReadingOfBoth(**asdict(change), fader=compared.reading.moved_by_fader) for compared, change in changes if change is not None
    )


def louder_by(earlier: Report, later: Report) -> float | None:
    """Return by how many LU the later bounce is louder."""
    old, new = (reading(report, Level, lambda level: level.integrated_lufs) for report in (earlier, later))
    return None if old is None or new is None else new - old


@dataclass(frozen=True, slots=True)
class _Third:
    """A third octave that changed."""

    place: int
    hz: float
    change_db: float


def bands(earlier: Report, later: Report) -> tuple[ChangedBand, ...]:
    """Return the regions whose level changed at matched loudness.

    A region is neighbouring third octaves that moved the same way.
    """
    regions: list[list[_Third]] = []
    for third in _changed_thirds(earlier, later):
        last = regions[-1] if regions else None
        if last and last[-1].place == third.place - 1 and abs(last[0].change_db - third.change_db) < ALIKE_DB:
            last.append(third)
        else:
            regions.append([third])
    return tuple(_band(region) for region in regions)


def _changed_thirds(earlier: Report, later: Report) -> list[_Third]:
    old, new, louder = record_of(earlier, Spectrum), record_of(later, Spectrum), louder_by(earlier, later)
    if old is None or new is None or louder is None or old.level_db is None or new.level_db is None:
        return []
    loudest = max(*old.third_octave_db, *new.third_octave_db)
    changed = []
    for place, (hz, before, after) in enumerate(zip(old.third_octave_hz, old.third_octave_db, new.third_octave_db, strict=False)):
        change = (new.level_db + after) - (old.level_db + before) - louder
        if abs(change) >= BAND_STEP_DB and max(before, after) >= loudest + QUIET_DB:
            changed.append(_Third(place, hz, change))
    return changed


def _band(region: Sequence[_Third]) -> ChangedBand:
    strongest = max(region, key=lambda third: abs(third.change_db))
    return ChangedBand(region[0].hz / HALF_THIRD, region[-1].hz * HALF_THIRD, strongest.change_db, strongest.hz)


def stretches(earlier: Report, later: Report, offset_s: float) -> tuple[ChangedStretch, ...]:
    """Return where the later bounce grew louder or softer.

    Loudness of 3 s, stepped at 1 s, against the same music in the earlier bounce, beyond what the whole differs by. Times are the later
    file's; the strongest come first.
    """
    old, new, louder = record_of(earlier, Level), record_of(later, Level), louder_by(earlier, later)
    if old is None or new is None or louder is None:
        return ()
    changed: list[ChangedStretch] = []
    run: list[tuple[float, float]] = []
    for time_s, change in [*_changes(old.short_term, new.short_term, offset_s, louder), (0.0, 0.0)]:
        if run and (abs(change) < COURSE_STEP_LU or (change > 0.0) != (run[-1][1] > 0.0) or time_s - run[-1][0] > 1.5):
            if run[-1][0] - run[0][0] >= LEAST_S:
                changed.append(ChangedStretch(run[0][0], run[-1][0], sum(change for _, change in run) / len(run)))
            run = []
        if abs(change) >= COURSE_STEP_LU:
            run.append((time_s, change))
    strongest = sorted(changed, key=lambda stretch: -abs(stretch.change_lu) * (stretch.end_s - stretch.start_s) ** 0.5)
    return tuple(strongest[:MOST_STRETCHES])


def _changes(old: Course, new: Course, offset_s: float, louder: float) -> list[tuple[float, float]]:
    changes = []
    for place, level in enumerate(new.values):
        time_s = new.start_s + place * new.step_s
        before = _at(old.values, (time_s - offset_s - old.start_s) / old.step_s)
        if level is not None and before is not None:
            changes.append((time_s, level - before - louder))
    return changes


def _at(values: Sequence[float | None], place: float) -> float | None:
    """Return a course between its points."""
    low = int(place // 1.0)
    if low < 0 or low >= len(values):
        return None
    first, second = values[low], values[min(low + 1, len(values) - 1)]
    if first is None or second is None:
        return None
    return first + (place - low) * (second - first)
