"""Against your references, in report.md: reading by reading, the curve, the group, and what to listen to beside the mix."""

from collections.abc import Iterator

from advisor.app.words import frequency, number, plain, sentence
from advisor.report_model.references import ReferenceReading, ReferencesSection
from advisor.report_model.report import Report
from features.records.balance import Balance, Target
from features.records.level import Level

OCTAVES_HZ = (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
LIMITED = ("psr_db", "crest_balance_db", "hit_lift_db")
SPREAD = (
    "Spread: how far one further song of their kind would usually lie from their middle; with few songs it leans on how songs in general "
    "differ. Within it, a difference means nothing; twice as far is unusual."
)
FEW = "With so few references nothing is called unusual; from five songs on the report also says how many of them lie as far out."


def references_text(report: Report) -> Iterator[str]:
    """Write the section on the references; nothing without them."""
    told = report.references
    if not told:
        return
    yield "## Against your references"
    yield ""
    yield from _who(told)
    if not told.readings:
        yield "Nothing could be compared: too little of this mix could be measured."
        yield ""
        return
    yield from _whole(told)
    yield from _readings(told)
    yield from _curve(report)
    yield from _beside(told, report)


def _who(told: ReferencesSection) -> Iterator[str]:
    count = len(told.songs)
    from_where = f"the shelf '{plain(told.shelf)}'" if told.shelf else f"the folder '{plain(told.folder or '')}'"
    songs = "1 song" if told.on_the_shelf == 1 else f"{told.on_the_shelf} songs"
    yield f"Compared with {from_where}, {songs}." + _group(told)
    yield ""
    for note in told.notes:
        yield f"*{plain(sentence(note))}*"
        yield ""
    if told.label:
        judged = "tone, low end and their tolerances" if count else "tone"
        yield f"In this critique {judged} are judged against {plain(told.label)}, not against songs in general."
        yield ""


def _group(told: ReferencesSection) -> str:
    if not told.group:
        if told.splits_tried and len(told.groups) < 2:
            return " They are one group: no division into two to four held when single songs were left out."
        return ""
    mine = told.group
    every = "; ".join(
        f"group {one.number} around '{plain(one.name)}' ({len(one.songs)} songs"
        + (f", against the others: {', '.join(one.shares)}" if one.shares else "")
        + ")"
        for one in told.groups
    )
    if mine.pinned:
        where = f"You chose group {mine.number}; this mix lies {'inside it' if mine.inside else 'outside it'}"
    else:
        where = f"This mix lies {'in' if mine.inside else 'outside all of them, nearest to'} group {mine.number}"
    near = f", nearer to its middle than {mine.nearer_than} of its {mine.songs} songs" if mine.inside else ""
    return f" They fall into {len(told.groups)} groups: {every}. {where}{near}, and is compared with that group alone."


def _whole(told: ReferencesSection) -> Iterator[str]:
    count = len(told.songs)
    if told.same_as:
        yield f"**No difference:** in all that is compared, this mix is the same as '{plain(told.same_as)}'."
        yield ""
        return
    if told.more_unusual_than is None:
        return
    further = told.more_unusual_than
    if further == count:
        yield f"Taken together, this mix lies further from the middle of these songs than any of the {count} does from the others."
    else:
        yield f"Taken together, {count - further} of the {count} songs lie as far from the others as this mix does, or further."
    yield ""


def _shown(name: str, value: float | None, *, signed: bool = False) -> str:
    if value is None:
        return "-"
    text = number(100.0 * value, 0) if name == "ear_share" else number(value, 2 if name == "tilt_db_per_octave" else 1)
    return f"+{text}" if signed and not text.startswith("-") else text


def _readings(told: ReferencesSection) -> Iterator[str]:
    count = len(told.songs)
    limited = told.compared_at_lufs
    if limited is not None:
        yield (
            "They are masters and this is a mix, so its peaks and hits are read behind the reference limiter, driven to "
            f"{number(limited)} LUFS: as loud as they are with their peaks at the ceiling, and never above your target. (As files they "
            f"stand at {number(told.loudness_lufs)} LUFS.)"
        )
        yield ""
    if count == 1:
        yield "| reading | this mix | it | difference |"
        yield "|---|---:|---:|---|"
    elif told.ranks:
        yield "| reading | this mix | their middle (lowest to highest) | spread | difference |"
        yield "|---|---:|---:|---:|---|"
    else:
        names = " | ".join(f"from '{plain(one.song)}'" for one in told.readings[0].from_each)
        yield f"| reading | this mix | {names} |"
        yield f"|---|---:|{'---:|' * count}"
    for one in told.readings:
        yield _row(one, told)
    yield ""
    if told.ranks:
        yield (
            f"{SPREAD} Outside their range is not a fault: of new songs by the same hands one in {round((count + 1) / 2)} lies outside the "
            f"range of {count} others."
        )
        yield ""
    elif count > 1:
        yield FEW
        yield ""


def _row(one: ReferenceReading, told: ReferencesSection) -> str:
    name = one.name
    own = _shown(name, one.mix)
    if told.compared_at_lufs is not None and name in LIMITED and abs(one.mix - one.unlimited) >= one.step:
        own += f" (unlimited {_shown(name, one.unlimited)})"
    head = f"| {one.words}, {one.unit} | {own} "
    if len(told.songs) == 1:
        return f"{head}| {_shown(name, one.median)} | {_difference(one, one.difference)} |"
    if told.ranks:
        middle = f"{_shown(name, one.median)} ({_shown(name, one.low)} to {_shown(name, one.high)})"
        return f"{head}| {middle} | {_shown(name, one.spread)} | {_against(one)} |"
    each = " | ".join(_difference(one, this.difference, brief=True) for this in one.from_each)
    return f"{head}| {each} |"


def _difference(one: ReferenceReading, value: float | None, *, brief: bool = False) -> str:
    if value is None:
        return "-"
    if abs(value) < one.step:
        return "none"
    text = _shown(one.name, value, signed=True)
    return text if brief else f"{text} {one.unit}: {one.more if value > 0 else one.less}"


def _against(one: ReferenceReading) -> str:
    """Return the difference from their middle with its rank, in words."""
    value = one.difference
    if abs(value) < one.step:
        return "none"
    if one.level == "like":
        return f"{_shown(one.name, value, signed=True)} {one.unit}: like your references"
    beaten = one.above if value > 0 else one.below
    all_of_them = beaten == one.songs
    rank = f"than all {one.songs}" if all_of_them else f"than {beaten} of {one.songs}"
    return (
        f"{_difference(one, value)} {rank}"
        + (
            {
                "little": ", though no further out than such songs differ" if all_of_them else ", within what your songs do",
                "noticeable": "; hardly any song of their kind lies so far out",
                "outside": "; **clearly outside your references**",
            }[one.level or "little"]
        )
    )


def _curve(report: Report) -> Iterator[str]:
    """Write the curve octave by octave: how far the mix lies above or below, and how far a further song of theirs would."""
    balance, target = report.measurements.get(Balance), report.measurements.get(Target)
    if not balance or not target or not balance.deviation_db:
        return
    rows = list(zip(balance.third_octave_hz, balance.deviation_db, target.spread_db, strict=False))
    cells = []
    for centre in OCTAVES_HZ:
        inside = [(deviation, spread) for hz, deviation, spread in rows if centre / 1.45 < hz < centre * 1.45]
        if inside:
            mean = [sum(each[k] for each in inside) / len(inside) for k in (0, 1)]
            cells.append((frequency(centre), f"{mean[0]:+.1f}", f"{mean[1]:.1f}"))
    yield "The spectrum, at equal loudness from 200 Hz to 5 kHz: this mix against their middle, in dB, octave by octave."
    yield ""
    yield f"| | {' | '.join(cell[0] for cell in cells)} |"
    yield f"|---|{'---:|' * len(cells)}"
    yield f"| this mix | {' | '.join(cell[1] for cell in cells)} |"
    yield f"| spread | {' | '.join(cell[2] for cell in cells)} |"
    yield ""


def _beside(told: ReferencesSection, report: Report) -> Iterator[str]:
    level = report.measurements.get(Level)
    own = None if level is None else level.integrated_lufs
    if own is None or not told.nearest:
        return
    yield "To listen to beside it, nearest first in what was measured; matched like this they are equally loud:"
    yield ""
    for one in told.nearest:
        offset = one.integrated_lufs - own
        turn = f"turn it down by {number(offset)} dB" if offset >= 0.05 else f"turn your mix down by {number(-offset)} dB"
        ends = (
            f"; its file holds nothing above {frequency(one.ends_at_hz)}, so leave the top out of the comparison" if one.ends_at_hz else ""
        )
        yield f"- **{plain(one.song)}**: {turn if abs(offset) >= 0.05 else 'as it is'}{ends}."
    yield ""
