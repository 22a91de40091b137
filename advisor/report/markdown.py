"""report.md: the critique as a text, rendered from the document alone."""

from collections.abc import Iterator, Sequence

from advisor.app.words import (
    STAGES,
    STOPPED_BY,
    TOPICS,
    bars,
    clock,
    course_points,
    frequency,
    lowered,
    number,
    plain,
    scale_bottom,
    sentence,
    spans,
)
from advisor.report import numbers
from advisor.report.audition_text import audition_text
from advisor.report.elements_text import elements_text
from advisor.report.mastering_text import mastering_text
from advisor.report.plan_text import advice_text, plan_text, trial_text
from advisor.report.references_text import references_text
from advisor.report.since_text import since_text
from advisor.report_model.findings import FindingCard
from advisor.report_model.master_check import MasterReport
from advisor.report_model.parts import UsedSettings
from advisor.report_model.report import Report
from features.records.balance import Target
from features.records.level import Level
from features.records.outlook import DrivePoint, PeakShare
from features.records.sections import Sections

MOST_MOVES = 5

CAUTIONS = (
    (
        "**Your hearing comes first.** Long loud listening harms it for good: 85 dB(A) for eight hours is the usual occupational "
        "limit, and every 3 dB more halves the time (NIOSH 1998). Take breaks; do the work at a low level."
    ),
    "**Match levels before you compare.** Louder sounds better for the first minute, whatever else has changed.",
    "**Keep the session file** and the bounce you started from. Make each move on a copy, one at a time.",
    (
        "**This is a measurement, not a judgement of the music.** Clarity, level, tone, dynamics and width are separate things, and "
        "none of them is quality. A mastering engineer's ears and your own taste have the last word."
    ),
)


def render(report: Report) -> str:
    """Return the whole report as Markdown."""
    parts = (
        _head,
        plan_text,
        _moves,
        audition_text,
        _findings,
        elements_text,
        mastering_text,
        _good,
        _course,
        _outlook,
        references_text,
        since_text,
        numbers.table,
        _open,
        _cautions,
    )
    return "\n".join(line for part in parts for line in part(report)) + "\n"


def _head(report: Report) -> Iterator[str]:
    mix, settings = report.mix, report.settings
    level = report.measurements.get(Level)
    yield f"# Critique of {plain(mix.name)}"
    yield ""
    yield f"**{plain(report.verdict.sentence)}**"
    yield ""
    channels = "mono" if mix.channels == 1 else "stereo"
    kind = f"{mix.bits}-bit" if mix.bits else plain(mix.subtype)
    facts = [f"{clock(mix.duration_s)} long", f"{mix.rate_hz / 1000:g} kHz", channels, kind]
    if level is not None and level.integrated_lufs is not None:
        facts += [f"{number(level.integrated_lufs)} LUFS integrated", f"true peak {number(level.true_peak_dbtp)} dBTP"]
    facts.append(f"aiming at {settings.target_lufs:g} LUFS under {settings.ceiling_dbtp:g} dBTP")
    yield " · ".join(facts)
    yield ""
    for note in report.notes:
        yield f"*{plain(sentence(note))}*"
        yield ""


def _moves(report: Report) -> Iterator[str]:
    cards = [one for one in report.findings if one.stage == "mixing"][:MOST_MOVES]
    if not cards or report.tried_on is not None:
        return
    yield "## What to do first"
    yield ""
    for place, card in enumerate(cards, 1):
        yield f"{place}. **{plain(card.title)}.** {plain(sentence(card.advice))}"
    yield ""
    yield (
        "What to do comes from what was measured on this mix; it has not been tried on your audio. Make one move at a "
        "time, bounce again, and let the next critique tell you what it brought."
    )
    yield ""


def _findings(report: Report) -> Iterator[str]:
    if not report.findings:
        yield "## Findings"
        yield ""
        yield "Nothing was found that stands out from what ordinary mixes do."
        yield ""
        return
    yield "## Findings"
    yield ""
    yield from _target(report)
    for topic, heading in TOPICS.items():
        cards = [one for one in report.findings if one.topic == topic]
        if cards:
            yield f"### {heading}"
            yield ""
        for card in cards:
            yield from card_text(card, report)


def _target(report: Report) -> Iterator[str]:
    target = report.measurements.get(Target)
    if not target or target.songs or not any(one.topic in ("tone", "low-end") for one in report.findings):
        return
    yield (
        "Tone is compared with songs in general: a published average of popular music, and a table measured on freely licensed "
        "finished songs. Good songs differ from it by several dB, so such findings are of medium confidence at most."
    )
    yield ""


def card_text(card: FindingCard, report: Report | MasterReport) -> Iterator[str]:
    """Write one finding."""
    yield f"#### {plain(card.title)}"
    yield ""
    where = f" Listen at {spans(card.where)}." if card.where else ""
    yield f"- **What is heard:** {plain(sentence(card.message))}{where}"
    for other in card.also:
        yield f"- **The same cause also shows here:** {plain(sentence(other.message))}"
    yield f"- **Why it matters:** {plain(sentence(card.why))}"
    yield f"- **Do this** ({STAGES[card.stage]}): {plain(sentence(advice_text(card, report)))}"
    yield from trial_text(card, report)
    yield f"- **Check by ear:** {plain(sentence(card.check_by_ear))}"
    yield f"- **Fine if you meant it:** {plain(sentence(card.fine_if))}"
    yield f"- **How sure:** {card.confidence}; {plain(sentence(card.sure_because))}"
    yield ""


def _good(report: Report) -> Iterator[str]:
    if not report.passed_cards:
        return
    yield "## What is already good"
    yield ""
    yield "Looked for on this song and not found, or no further past a limit than the reading is exact:"
    yield ""
    for topic, heading in TOPICS.items():
        titles = [one.title for one in report.passed_cards if one.topic == topic]
        if titles:
            yield f"- **{heading}:** {plain('; '.join(lowered(title) for title in titles))}"
    yield ""


def _course(report: Report) -> Iterator[str]:
    level, sections = report.measurements.get(Level), report.measurements.get(Sections)
    if not level or not any(value is not None for value in level.short_term.values):
        return
    points, step_s = course_points(level.short_term)
    top = max(value for value in points if value is not None)
    yield "## The song over time"
    yield ""
    bottom = scale_bottom(points)
    yield f"Loudness of 3 s, one mark for {step_s:g} s; top of the scale {number(top)} LUFS, bottom {number(bottom)} LUFS."
    yield ""
    yield f"    {bars(points, bottom, top)}"
    yield f"    0:00{clock(report.mix.duration_s).rjust(max(len(points) - 4, 5))}"
    yield ""
    if sections and len(sections.sections) > 1:
        parts = [f"{clock(one.start_s)}-{clock(one.end_s)} at {number(one.loudness_lufs)} LUFS" for one in sections.sections]
        densest = sections.densest
        length_s = densest.end_s - densest.start_s
        yield f"Parts found: {'; '.join(parts)}. The loudest {length_s:.0f} s in a row: {spans([densest])}."
        yield ""


def _outlook(report: Report) -> Iterator[str]:
    outlook = report.outlook
    if not outlook or outlook.clean_lufs is None:
        return
    yield "## How loud it can go"
    yield ""
    yield (
        f"The mix was driven into a plain limiter with its ceiling at {outlook.ceiling_dbtp:g} dBTP; at a drive of 0 its highest peak "
        f"just meets it. Set gently, as in the table, it stays unheard up to {_until(outlook.clean_lufs, outlook.stopped_by)}."
        + (
            ""
            if outlook.fast_clean_lufs is None
            else f" Set fast, it stays unheard up to {_until(outlook.fast_clean_lufs, outlook.fast_stopped_by)}."
        )
    )
    yield ""
    yield "| drive | loudness | gain reduction, all but the hardest 5 % | distortion against what masks it | pumping | hits lose | PSR |"
    yield "|---:|---:|---:|---:|---:|---:|---:|"
    for point in _told_apart(outlook.curve):
        yield (
            f"| {number(point.drive_db)} dB | {number(point.lufs)} LUFS | {number(point.gain_reduction_p95_db)} dB "
            f"| {_noise(point.distortion_nmr_db)} | {number(point.pumping_db, 2)} dB "
            f"| {number(point.hit_loss_db)} dB | {number(point.psr_db)} dB |"
        )
    yield ""
    shares = [one for one in sorted(outlook.peak_share, key=lambda one: -one.share) if one.share >= 0.1][:3]
    if shares:
        texts = [f"{one.share:.0%} from {_stretch(one)}" for one in shares]
        yield f"What the peaks that the limiter works on are made of: {'; '.join(texts)}."
        yield ""


def _until(clean_lufs: float | None, stopped_by: str) -> str:
    return f"{number(clean_lufs)} LUFS; then {STOPPED_BY[stopped_by]}"


def _told_apart(curve: Sequence[DrivePoint]) -> list[DrivePoint]:
    """Leave out points at the same drive, as it is printed, as the one before."""
    drives = [number(point.drive_db) for point in curve]
    return [point for place, point in enumerate(curve) if place == 0 or drives[place] != drives[place - 1]]


def _stretch(band: PeakShare) -> str:
    if band.low_hz <= 0.0:
        return f"below {frequency(band.high_hz)} (an offset or rumble)"
    return f"{frequency(band.low_hz)}-{frequency(band.high_hz)}"


def _noise(ratio_db: float) -> str:
    return "none" if ratio_db <= -60.0 else f"{number(ratio_db)} dB"


def _open(report: Report) -> Iterator[str]:
    if report.not_applicable:
        yield "## What could not be judged"
        yield ""
        titles: dict[str, list[str]] = {}
        for one in report.not_applicable:
            those = titles.setdefault(one.reason, [])
            those.append(lowered(one.title) if those else one.title)
        for reason, those in titles.items():
            yield f"- {plain('; '.join(those))}: {plain(sentence(reason))}"
        yield ""
    if report.failed:
        yield "## What failed"
        yield ""
        for part in report.failed:
            yield f"- {plain(part.rule)}: {plain(sentence(part.error))} The rest of the critique stands."
        yield ""
    yield from _changed(report.settings)


def _changed(settings: UsedSettings) -> Iterator[str]:
    if not settings.changed_limits and not settings.disabled_rules:
        return
    yield "## Limits you changed"
    yield ""
    for one in settings.changed_limits:
        yield f"- {one.rule}: {one.limit} = {one.value:g} {one.unit} instead of {one.default:g} ({plain(one.where)})"
    for name in settings.disabled_rules:
        yield f"- {name}: switched off"
    yield ""


def _cautions(_report: Report) -> Iterator[str]:
    yield "## Cautions"
    yield ""
    for caution in CAUTIONS:
        yield f"- {caution}"
