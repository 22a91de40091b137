"""Compares the mix with its references, reading by reading."""

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.app.words import frequency, number
from advisor.report.filling import filled
from advisor.report_model.references import NearSong, ReferenceReading, ReferencesSection
from advisor.report_model.report import Report
from features.records.balance import Balance, Target
from features.records.level import Level

PLACE = 80
OCTAVES_HZ = (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
LIMITED = ("psr_db", "crest_balance_db", "hit_lift_db")


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """A reading of the mix beside the references' in cells."""

    reading: ReferenceReading
    cells: tuple[str, ...]
    outside: bool = False


def section(report: Report) -> Iterator[str]:
    """Yield the comparison. Nothing without references."""
    references = report.references
    if not references:
        return
    level = report.measurements.get(Level)
    yield from filled(
        __name__,
        references=references,
        count=len(references.songs),
        one_in=round((len(references.songs) + 1) / 2),
        compared_with=_compared_with(references),
        unusual=_unusual(references),
        columns=_columns(references) if references.readings else (),
        rows=[_row(reading, references) for reading in references.readings],
        octaves=_octaves(report),
        beside=_beside(references, None if level is None else level.integrated_lufs),
    )


def _compared_with(references: ReferencesSection) -> str:
    place = f"the shelf '{references.shelf}'" if references.shelf else f"the folder '{references.folder or ''}'"
    songs = "1 song" if references.on_the_shelf == 1 else f"{references.on_the_shelf} songs"
    return f"Compared with {place}, {songs}.{_group(references)}"


def _group(references: ReferencesSection) -> str:
    if not references.group:
        if references.splits_tried and len(references.groups) < 2:
            return " They are one group: no division into two to four held when single songs were left out."
        return ""
    own = references.group
    groups = "; ".join(
        f"group {group.number} around '{group.name}' ({len(group.songs)} songs"
        + (f", against the others: {', '.join(group.shares)}" if group.shares else "")
        + ")"
        for group in references.groups
    )
    if own.pinned:
        where = f"You chose group {own.number}; this mix lies {'inside it' if own.inside else 'outside it'}"
    else:
        where = f"This mix lies {'in' if own.inside else 'outside all of them, nearest to'} group {own.number}"
    near = f", nearer to its middle than {own.nearer_than} of its {own.songs} songs" if own.inside else ""
    return f" They fall into {len(references.groups)} groups: {groups}. {where}{near}, and is compared with that group alone."


def _unusual(references: ReferencesSection) -> str:
    """Return how unusual the mix is among the references."""
    count, further = len(references.songs), references.more_unusual_than
    if further is None:
        return ""
    if further == count:
        return f"Taken together, this mix lies further from the middle of these songs than any of the {count} does from the others."
    return f"Taken together, {count - further} of the {count} songs lie as far from the others as this mix does, or further."


def _shown(name: str, value: float | None, *, signed: bool = False) -> str:
    if value is None:
        return "-"
    text = number(100.0 * value, 0) if name == "ear_share" else number(value, 2 if name == "tilt_db_per_octave" else 1)
    return f"+{text}" if signed and not text.startswith("-") else text


def _columns(references: ReferencesSection) -> list[tuple[str, str]]:
    """Return title and alignment of each column after the reading."""
    if len(references.songs) == 1:
        return [("this mix", "---:"), ("it", "---:"), ("difference", "---")]
    if references.ranks:
        return [("this mix", "---:"), ("their middle (lowest to highest)", "---:"), ("spread", "---:"), ("difference", "---")]
    return [("this mix", "---:"), *((f"from '{other.song}'", "---:") for other in references.readings[0].from_each)]


def _row(reading: ReferenceReading, references: ReferencesSection) -> ReadingRow:
    name = reading.name
    own = _shown(name, reading.mix)
    if references.compared_at_lufs is not None and name in LIMITED and abs(reading.mix - reading.unlimited) >= reading.step:
        own += f" (unlimited {_shown(name, reading.unlimited)})"
    if len(references.songs) == 1:
        return ReadingRow(reading, (own, _shown(name, reading.median), _difference(reading, reading.difference)))
    if references.ranks:
        middle = f"{_shown(name, reading.median)} ({_shown(name, reading.low)} to {_shown(name, reading.high)})"
        outside = abs(reading.difference) >= reading.step and reading.level == "outside"
        return ReadingRow(reading, (own, middle, _shown(name, reading.spread), _against(reading)), outside)
    return ReadingRow(reading, (own, *(_difference(reading, other.difference, brief=True) for other in reading.from_each)))


def _difference(reading: ReferenceReading, value: float | None, *, brief: bool = False) -> str:
    if value is None:
        return "-"
    if abs(value) < reading.step:
        return "none"
    text = _shown(reading.name, value, signed=True)
    return text if brief else f"{text} {reading.unit}: {reading.more if value > 0 else reading.less}"


def _against(reading: ReferenceReading) -> str:
    """Return the difference from their middle with its rank."""
    value = reading.difference
    if abs(value) < reading.step:
        return "none"
    if reading.level == "like":
        return f"{_shown(reading.name, value, signed=True)} {reading.unit}: like your references"
    beaten = reading.above if value > 0 else reading.below
    all_of_them = beaten == reading.songs
    rank = f"than all {reading.songs}" if all_of_them else f"than {beaten} of {reading.songs}"
    return (
        f"{_difference(reading, value)} {rank}"
        + (
            {
                "little": ", though no further out than such songs differ" if all_of_them else ", within what your songs do",
                "noticeable": "; hardly any song of their kind lies so far out",
                "outside": "",
            }[reading.level or "little"]
        )
    )


def _octaves(report: Report) -> list[tuple[str, str, str]]:
    """Return each octave's distance and spread in dB."""
    balance, target = report.measurements.get(Balance), report.measurements.get(Target)
    if not balance or not target or not balance.deviation_db:
        return []
    bands = list(zip(balance.third_octave_hz, balance.deviation_db, target.spread_db, strict=False))
    octaves = []
    for centre in OCTAVES_HZ:
        inside = [(deviation, spread) for hz, deviation, spread in bands if centre / 1.45 < hz < centre * 1.45]
        if inside:
            deviation, spread = (sum(values) / len(inside) for values in zip(*inside, strict=True))
            octaves.append((frequency(centre), f"{deviation:+.1f}", f"{spread:.1f}"))
    return octaves


def _beside(references: ReferencesSection, own_lufs: float | None) -> list[tuple[str, str]]:
    """Return the nearest songs with their loudness matches."""
    return [] if own_lufs is None else [(song.song, _matched(song, song.integrated_lufs - own_lufs)) for song in references.nearest]


def _matched(song: NearSong, offset_db: float) -> str:
    turn = f"turn it down by {number(offset_db)} dB" if offset_db >= 0.05 else f"turn your mix down by {number(-offset_db)} dB"
    ends = f"; its file holds nothing above {frequency(song.ends_at_hz)}, so leave the top out of the comparison" if song.ends_at_hz else ""
    return f"{turn if abs(offset_db) >= 0.05 else 'as it is'}{ends}."
