"""What differs between two bounces beyond its reporting step: readings, bands, and stretches of the song, at matched loudness."""

from collections.abc import Mapping, Sequence
from typing import Any

from advisor.history.reading import value
from advisor.history.story import changed
from advisor.judging.reporting import BAND_STEP_DB, COURSE_STEP_LU, all_compared_readings

Document = Mapping[str, Any]

HALF_THIRD = 10.0**0.05
QUIET_DB = -45.0  # against the loudest band (power per Hz): nothing is heard there
ALIKE_DB = 1.5  # neighbouring bands that changed by more than this from one another are told apart
LEAST_S = 3.0
MOST_STRETCHES = 5


def readings(earlier: Document, later: Document) -> list[dict[str, Any]]:
    """Return every reading that changed beyond its reporting step, with whether a fader alone may have done it."""
    changes = []
    for compared in all_compared_readings():
        change = changed(compared, earlier, later)
        if change is not None:
            changes.append({**change, "fader": compared.reading.moved_by_fader})
    return changes


def louder_by(earlier: Document, later: Document) -> float | None:
    """Return by how many LU the later bounce is louder: what is taken out before the two are compared."""
    old, new = value(earlier, "level", "integrated_lufs"), value(later, "level", "integrated_lufs")
    return None if old is None or new is None else new - old


def bands(earlier: Document, later: Document) -> list[dict[str, Any]]:
    """Return the regions whose level changed at matched loudness: neighbouring third octaves that moved the same way."""
    old, new, louder = earlier["measurements"].get("spectrum"), later["measurements"].get("spectrum"), louder_by(earlier, later)
    if not old or not new or louder is None or old.get("level_db") is None or new.get("level_db") is None:
        return []
    regions: list[dict[str, Any]] = []
    loudest = max(*old["third_octave_db"], *new["third_octave_db"])
    last: int | None = None
    rows = zip(old["third_octave_hz"], old["third_octave_db"], new["third_octave_db"], strict=False)
    for place, (hz, before, after) in enumerate(rows):
        change = (new["level_db"] + after) - (old["level_db"] + before) - louder
        if abs(change) < BAND_STEP_DB or max(before, after) < loudest + QUIET_DB:
            continue
        if last == place - 1 and regions and abs(regions[-1]["from_db"] - change) < ALIKE_DB:
            _widen(regions[-1], hz, change)
        else:
            regions.append({"low_hz": hz / HALF_THIRD, "high_hz": hz * HALF_THIRD, "change_db": change, "from_db": change, "at_hz": hz})
        last = place
    return [{name: region[name] for name in ("low_hz", "high_hz", "change_db", "at_hz")} for region in regions]


def _widen(region: dict[str, Any], hz: float, change: float) -> None:
    region["high_hz"] = hz * HALF_THIRD
    if abs(change) > abs(region["change_db"]):
        region["change_db"], region["at_hz"] = change, hz


def stretches(earlier: Document, later: Document, offset_s: float) -> list[dict[str, Any]]:
    """Return where the later bounce is louder or softer than the earlier one, beyond what it is as a whole; strongest first.

    Loudness of 3 s, stepped at 1 s, read in the later file where the same music is. Times are the later file's.
    """
    old, new = (each["measurements"].get("level") for each in (earlier, later))
    louder = louder_by(earlier, later)
    if not old or not new or louder is None:
        return []
    changes = _changes(old["short_term"], new["short_term"], offset_s, louder)
    found: list[dict[str, Any]] = []
    run: list[tuple[float, float]] = []
    for time_s, change in [*changes, (0.0, 0.0)]:
        if run and (abs(change) < COURSE_STEP_LU or (change > 0.0) != (run[-1][1] > 0.0) or time_s - run[-1][0] > 1.5):
            if run[-1][0] - run[0][0] >= LEAST_S:
                mean = sum(each for _, each in run) / len(run)
                found.append({"start_s": run[0][0], "end_s": run[-1][0], "change_lu": mean})
            run = []
        if abs(change) >= COURSE_STEP_LU:
            run.append((time_s, change))
    return sorted(found, key=lambda one: -abs(one["change_lu"]) * (one["end_s"] - one["start_s"]) ** 0.5)[:MOST_STRETCHES]


def _changes(old: Document, new: Document, offset_s: float, louder: float) -> list[tuple[float, float]]:
    changes = []
    for place, level in enumerate(new["values"]):
        time_s = new["start_s"] + place * new["step_s"]
        before = _at(old["values"], (time_s - offset_s - old["start_s"]) / old["step_s"])
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
