"""The comparison as a text."""

from collections.abc import Iterator, Mapping

from advisor.app.history_words import HEADINGS, VERDICTS, shown
from advisor.app.words import frequency, number, plain, sentence
from advisor.judging.reporting import BAND_STEP_DB, COURSE_STEP_LU
from advisor.report.element_words import element_lines
from advisor.report.sections.critique.comparisons.since import finding_words, measured_words, reading_words
from advisor.report_model.comparison import ChangedBand, ComparedFinding, ComparedState, Comparison, Way
from advisor.report_model.history import FindingState, HistoryFinding
from features.sound.clock import clock

MOST_READINGS = 6
STATES: tuple[ComparedState, ...] = ("solved", "better", "still there", "worse", "only later", "not judged")
HEADS = {**HEADINGS, "solved": "Only in the earlier", "only later": "Only in the later", "still there": "In both, much the same"}
HEADS |= {"better": "In both, less in the later", "worse": "In both, more in the later", "not judged": "Could not be judged in the later"}
WAYS: Mapping[Way, str] = {
    "advised": "the advised way",
    "other": "the other way",
    "neither": "did not move",
    "unknown": "not clear",
}


def render(comparison: Comparison) -> str:
    """Return the whole comparison as Markdown."""
    parts = (_head, _sum, _elements, _findings, _moves, _bands, _stretches, _readings, _close)
    return "\n".join(line for part in parts for line in part(comparison)) + "\n"


def _head(comparison: Comparison) -> Iterator[str]:
    yield f"# {plain(comparison.later.name)} against {plain(comparison.earlier.name)}"
    yield ""
    for line in how_they_lie(comparison):
        yield f"- {plain(sentence(line))}"
    yield ""


def how_they_lie(comparison: Comparison) -> Iterator[str]:
    """Say how both files lie, and what to beware of."""
    alignment, offset = comparison.alignment, comparison.alignment.offset_s or 0.0
    if comparison.same_file:
        yield "Both are the very same file"
    elif not comparison.same_song:
        yield (
            f"The two do not seem to hold the same recording: none of it lines up ({alignment.stretches_matched} of "
            f"{alignment.stretches_tried} stretches match). What follows compares them as two songs"
        )
    elif abs(offset) < 0.0005:
        yield "Both start at the same place"
    else:
        moved = "later" if offset > 0.0 else "earlier"
        far = f"{abs(offset) * 1000.0:.1f} ms" if abs(offset) < 1.0 else f"{abs(offset):.3f} s"
        yield f"The same music starts {far} {moved} in the later file; that was taken into account"
    if alignment.upside_down:
        yield "The later file has inverted polarity as a whole; alone nobody hears it, beside other tracks it cancels"
    if comparison.longer_by_s is not None:
        much = f"{abs(comparison.longer_by_s):.1f} s {'longer' if comparison.longer_by_s > 0 else 'shorter'}"
        yield f"The later file is {much}; readings of the whole song include what the other one lacks"
    if comparison.louder_by_lu is not None and abs(comparison.louder_by_lu) >= 0.1:
        louder = comparison.louder_by_lu
        yield f"The later bounce is {abs(louder):.1f} LU {'louder' if louder > 0 else 'softer'}; that is taken out of all that follows"
    for bounce in (comparison.earlier, comparison.later):
        for note in bounce.notes:
            yield f"{shown(bounce.name, 60)}: {note}"


def in_short(comparison: Comparison) -> str:
    """Return what the change brought, in one sentence."""
    first, second = comparison.earlier.clean_lufs, comparison.later.clean_lufs
    counts = [(HEADS[state].lower(), len([finding for finding in comparison.findings if finding.state == state])) for state in STATES]
    said = ", ".join(f"{count} {words}" for words, count in counts if count)
    loud = "" if first is None or second is None else f" Clean loudness: {number(first)} LUFS then, {number(second)} LUFS now."
    return f"{f'Findings: {said}.' if said else 'Neither bounce has a finding.'}{loud}"


def _sum(comparison: Comparison) -> Iterator[str]:
    yield f"**{in_short(comparison)}**"
    yield ""
    yield f"- Earlier: {plain(comparison.earlier.verdict.sentence)}"
    yield f"- Later: {plain(comparison.later.verdict.sentence)}"
    yield ""


def _elements(comparison: Comparison) -> Iterator[str]:
    if not comparison.elements:
        return
    yield "## Your elements, each stem against itself"
    yield ""
    for words in element_lines(comparison.elements):
        yield f"- {plain(sentence(words))}"
    yield ""


def finding_lines(comparison: Comparison) -> Iterator[tuple[str, str]]:
    """Return the findings of each state, with its heading."""
    for state in STATES:
        chosen = [finding for finding in comparison.findings if finding.state == state]
        if chosen:
            yield HEADS[state], "; ".join(_words(finding) for finding in chosen)


def _words(finding: ComparedFinding) -> str:
    if finding.state == "still there":
        return f"{finding.title} ({number(finding.before)} and {number(finding.after)})"
    state: FindingState = "new" if finding.state == "only later" else finding.state
    return finding_words(HistoryFinding(finding.rule, finding.stem, None, None, finding.title, state, finding.before, finding.after, 0))


def _findings(comparison: Comparison) -> Iterator[str]:
    yield "## Findings"
    yield ""
    lines = list(finding_lines(comparison))
    for heading, words in lines:
        yield f"- **{heading}:** {plain(words)}."
    yield "" if lines else "Neither bounce has a finding."
    if lines:
        yield "The numbers say how far a finding lies past its limit, in tolerances of that limit."
    yield ""


def _moves(comparison: Comparison) -> Iterator[str]:
    if not comparison.moves:
        return
    yield "## Did it go the advised way?"
    yield ""
    yield "What the earlier bounce's findings ask for, and what was measured since, whatever was used to do it:"
    yield ""
    yield "| finding | asked for | measured since | it went | how sure |"
    yield "|---|---|---|---|---|"
    for move in comparison.moves:
        way = WAYS[move.way]
        amount = f" ({VERDICTS[move.verdict]})" if move.way == "advised" else ""
        yield (
            f"| {plain(move.title)} | {plain(sentence(move.move))} | {plain(measured_words(move))} | {way}{amount} "
            f"| {move.sure}; {plain(move.sure_because)} |"
        )
    yield ""


def band_words(band: ChangedBand) -> str:
    """Return one region and what happened to it."""
    low, high = (float(f"{hz:.2g}") for hz in (band.low_hz, band.high_hz))
    return f"{frequency(low)} to {frequency(high)}: {band.change_db:+.1f} dB"


def _bands(comparison: Comparison) -> Iterator[str]:
    yield "## Tone, at matched loudness"
    yield ""
    if not comparison.bands:
        yield f"No third octave changed by more than {BAND_STEP_DB:g} dB."
    for band in comparison.bands:
        yield f"- {band_words(band)}"
    yield ""


def _stretches(comparison: Comparison) -> Iterator[str]:
    if not comparison.same_song:
        return
    yield "## Along the song, at matched loudness"
    yield ""
    if not comparison.stretches:
        yield f"No stretch of more than three seconds changed by more than {COURSE_STEP_LU:g} LU against the rest."
    for stretch in comparison.stretches:
        louder = "louder" if stretch.change_lu > 0.0 else "softer"
        yield f"- {clock(stretch.start_s)}-{clock(stretch.end_s)}: {abs(stretch.change_lu):.1f} LU {louder} than before, against the rest"
    yield ""


def _readings(comparison: Comparison) -> Iterator[str]:
    yield "## Everything else beyond its reporting step"
    yield ""
    if not comparison.readings:
        yield "Nothing."
    for change in comparison.readings:
        fader = " (the fader alone may do this)" if change.fader else ""
        yield f"- {plain(reading_words(change))}{fader}"
    yield ""


def _close(_comparison: Comparison) -> Iterator[str]:
    yield "A difference is no judgement: listen to both at one loudness, and trust your ears where they disagree."


def lines(comparison: Comparison) -> Iterator[str]:
    """Return what the command line prints."""
    for line in how_they_lie(comparison):
        yield shown(sentence(line))
    yield in_short(comparison)
    yield ""
    for words in element_lines(comparison.elements):
        yield shown(words)
    for heading, words in finding_lines(comparison):
        yield f"{heading}: {shown(words)}"
    for move in comparison.moves:
        amount = f", {VERDICTS[move.verdict]}" if move.way == "advised" else ""
        yield f"  {shown(move.title)}: {WAYS[move.way]}{amount} ({move.sure}). {shown(measured_words(move))}"
    if comparison.bands:
        yield f"Tone at matched loudness: {'; '.join(band_words(band) for band in comparison.bands)}"
    for stretch in comparison.stretches:
        yield f"{clock(stretch.start_s)}-{clock(stretch.end_s)}: {stretch.change_lu:+.1f} LU against the rest"
    others = [change for change in comparison.readings if not change.fader]
    if others:
        more = f"; and {len(others) - MOST_READINGS} more (--out FOLDER writes all)" if len(others) > MOST_READINGS else ""
        yield f"Else: {'; '.join(reading_words(change) for change in others[:MOST_READINGS])}{more}"
