"""What came of a case, and the tables of many: share of the distance closed, room, how far songs as they are were moved."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from statistics import fmean
from typing import Any

from rules.remedy import Remedy

AS_IT_IS = "as-it-is"
KEPT_OUT = frozenset(("pingus-3", "song02"))
LEAST_DB = 0.5  # a fault that brings the song no further away than this is not counted
STEP = 1.0
ROOM_LU = 0.3
UNMOVED = 0.05
BOTTOM = -1.0  # a case counts no worse than this in a mean


@dataclass(frozen=True, slots=True)
class Row:
    """One case: distances from the song before the fault, planted and after the plan; clean loudness in LUFS."""

    song: str
    fault: str
    way: str
    given: str
    steps: int = 0
    moves: str = ""
    by_whom: str = ""
    before: float = 0.0
    after: float = 0.0
    own_before: float = 0.0
    own_after: float = 0.0
    tone_before: float = 0.0
    tone_after: float = 0.0
    levels_before: float = 0.0
    levels_after: float = 0.0
    picture_before: float = 0.0
    picture_after: float = 0.0
    peaks_before: float = 0.0
    peaks_after: float = 0.0
    clean_original: float | None = None
    clean_planted: float | None = None
    clean_followed: float | None = None
    clean_promised: float | None = None
    stepped_back: str = ""
    seconds: float = 0.0
    error: str = ""

    @property
    def closed(self) -> float | None:
        """Share of the distance closed, by the independent measure; None where the fault is too small to say."""
        return closed(self.before, self.after)

    @property
    def own_closed(self) -> float | None:
        """Share of the distance closed, by the project's own measure."""
        return closed(self.own_before, self.own_after)

    @property
    def worse(self) -> bool:
        """Whether the plan led further away by more than a step."""
        return self.after - self.before > STEP

    @property
    def room(self) -> float | None:
        """Clean loudness won by the plan, in LU."""
        return None if self.clean_planted is None or self.clean_followed is None else self.clean_followed - self.clean_planted

    @property
    def lost_room(self) -> bool:
        """Whether the plan costs more room than is let pass."""
        return self.room is not None and self.room < -ROOM_LU


def closed(before: float, after: float) -> float | None:
    """Return the share of a distance that is closed, -1 at the least; None for a distance too short.

    >>> closed(4.0, 1.0), closed(4.0, 5.0), closed(0.1, 3.0)
    (0.75, -0.25, None)
    """
    return None if before < LEAST_DB else max(1.0 - after / before, BOTTOM)


def pooled(rows: Iterable[Row]) -> float | None:
    """Return the share of all distance together that is closed."""
    counted = [row for row in rows if row.closed is not None]
    return closed(sum(row.before for row in counted), sum(row.after for row in counted)) if counted else None


def from_text(columns: Mapping[str, str]) -> Row:
    """Return a row from a line of a table, whose other columns are passed over."""
    types = {"str": str, "int": int, "float": float}
    values: dict[str, Any] = {}
    for field in fields(Row):
        text, kind = columns[field.name], str(getattr(field.type, "__name__", field.type))
        values[field.name] = (float(text) if text else None) if "None" in kind else types[kind](text)
    return Row(**values)


def mean(values: Iterable[float | None]) -> float | None:
    """Return the mean of what is known."""
    known = [value for value in values if value is not None]
    return fmean(known) if known else None


def worst_way(rows: Sequence[Row]) -> tuple[str, float] | None:
    """Return the way of planting of which least is closed, and how much."""
    means = {way: mean(row.closed for row in rows if row.way == way) for way in dict.fromkeys(row.way for row in rows)}
    known = {way: value for way, value in means.items() if value is not None}
    return min(known.items(), key=lambda item: item[1]) if known else None


def steps_back(first: Sequence[Remedy], second: Sequence[Remedy]) -> list[Remedy]:
    """Return the moves of a second plan that undo what the first did: the same part and place, the other direction."""
    return [move for move in second if any(_undoes(move, earlier) for earlier in first)]


def _undoes(move: Remedy, earlier: Remedy) -> bool:
    if move.part != earlier.part:
        return False
    if move.kind == earlier.kind == "polarity":
        return True
    if (move.gain_db or 0.0) * (earlier.gain_db or 0.0) >= 0.0:
        return False
    if move.frequency_hz is None or earlier.frequency_hz is None:
        return move.frequency_hz is earlier.frequency_hz
    ratio = move.frequency_hz / earlier.frequency_hz
    return move.kind == earlier.kind and 0.5 <= ratio <= 2.0


def _share(value: float | None) -> str:
    return "     -" if value is None else f"{value:6.0%}"


def _decibels(value: float | None) -> str:
    return "    -" if value is None else f"{value:+5.2f}"


def fault_table(rows: Sequence[Row], ways: Sequence[str]) -> list[str]:
    """Return a line a fault, with stems and without; the worst way is named."""
    lines = [
        f"{'fault':13} {'given':6} {'n':>3} "
        + " ".join(f"{way:>6}" for way in ways)
        + "   mean pooled    own  worst way      no step worse  room   lost"
    ]
    for fault in [*dict.fromkeys(row.fault for row in rows), ""]:
        for given in dict.fromkeys(row.given for row in rows):
            some = [row for row in rows if row.given == given and fault in {row.fault, ""}]
            if some:
                lines.append(f"{fault or 'all':13} {given:6} {_numbers(some, ways)}")
    return lines


def _numbers(rows: Sequence[Row], ways: Sequence[str]) -> str:
    by_way = " ".join(_share(mean(row.closed for row in rows if row.way == way)) for way in ways)
    worst = worst_way(rows)
    named = "-" if worst is None else f"{worst[0]} {worst[1]:.0%}"
    return (
        f"{sum(row.closed is not None for row in rows):3} {by_way} {_share(mean(row.closed for row in rows))} {_share(pooled(rows))} "
        f"{_share(mean(row.own_closed for row in rows))}  {named:14} {sum(row.steps == 0 for row in rows):7} "
        f"{sum(row.worse for row in rows):5} {_decibels(mean(row.room for row in rows))} {sum(row.lost_room for row in rows):6}"
    )


def untouched_table(rows: Sequence[Row]) -> list[str]:
    """Return how far songs as they are were moved, one line a song and the mean."""
    lines = [f"{'song':14} {'given':6} steps  tone levels picture   all   own  room"]
    lines += [f"{row.song:14} {row.given:6} {row.steps:5} {_moved([row])}  {row.moves}" for row in rows]
    for given in dict.fromkeys(row.given for row in rows):
        some = [row for row in rows if row.given == given]
        still = sum(row.after <= UNMOVED for row in some)
        lines.append(
            f"{'mean':14} {given:6} {mean(row.steps for row in some) or 0.0:5.1f} {_moved(some)}  not moved at all: {still} of {len(some)}"
        )
    return lines


def _moved(rows: Sequence[Row]) -> str:
    columns = ((row.tone_after, row.levels_after, row.picture_after, row.after, row.own_after) for row in rows)
    tone, levels, picture, whole, own = (fmean(column) for column in zip(*columns, strict=True))
    return f"{tone:5.2f} {levels:6.2f} {picture:7.2f} {whole:5.2f} {own:5.2f} {_decibels(mean(row.room for row in rows))}"


def tables(rows: Sequence[Row], ways: Sequence[str]) -> list[str]:
    """Return all tables in lines: songs worked on, then those kept out."""
    lines: list[str] = []
    for words, some in (
        ("songs worked on", [row for row in rows if row.song not in KEPT_OUT]),
        ("songs kept out", [row for row in rows if row.song in KEPT_OUT]),
    ):
        good = [row for row in some if not row.error]
        planted = [row for row in good if row.fault != AS_IT_IS]
        untouched = [row for row in good if row.fault == AS_IT_IS]
        if planted:
            lines += ["", f"{words}: share of the distance closed", *fault_table(planted, ways), *_totals(planted)]
        if untouched:
            lines += ["", f"{words}, as they are: moved in dB", *untouched_table(untouched)]
        lines += [f"failed: {row.song} {row.fault} {row.way} {row.given}: {row.error}" for row in some if row.error]
    return lines


def _totals(rows: Sequence[Row]) -> list[str]:
    count = len(rows)
    lost = [row for row in rows if row.lost_room]
    worse = f"made worse by more than a step: {sum(row.worse for row in rows)} of {count}"
    room = f"clean loudness worse by more than {ROOM_LU} LU: {len(lost)} of {count}"
    back = [row for row in rows if row.stepped_back]
    return [worse, room, *(f"asks for a step back: {row.song} {row.fault} {row.way} {row.given}: {row.stepped_back}" for row in back)]
