"""The comparison as a text, from its document alone."""

from collections.abc import Iterator, Mapping
from typing import Any

from advisor.app.history_words import HEADINGS, VERDICTS, shown
from advisor.app.words import frequency, number, plain, sentence
from advisor.judging.reporting import BAND_STEP_DB, COURSE_STEP_LU
from advisor.report.since_text import finding_words, measured_words, reading_words
from advisor.report_model.comparison import ComparedMove, ReadingOfBoth
from advisor.report_model.history import HistoryFinding
from features.sound.clock import clock

Document = Mapping[str, Any]

MOST_READINGS = 6
STATES = ("solved", "better", "still there", "worse", "only later", "not judged")
HEADS = {**HEADINGS, "solved": "Only in the earlier", "only later": "Only in the later", "still there": "In both, much the same"}
HEADS |= {"better": "In both, less in the later", "worse": "In both, more in the later", "not judged": "Could not be judged in the later"}
WAYS = {
    "advised": "the advised way",
    "other": "the other way",
    "neither": "did not move",
    "unknown": "cannot be told",
}


def render(found: Document) -> str:
    """Return the whole comparison as Markdown."""
    parts = (_head, _sum, _findings, _moves, _bands, _stretches, _readings, _close)
    return "\n".join(line for part in parts for line in part(found)) + "\n"


def _head(found: Document) -> Iterator[str]:
    yield f"# {plain(found['later']['name'])} against {plain(found['earlier']['name'])}"
    yield ""
    for line in how_they_lie(found):
        yield f"- {plain(sentence(line))}"
    yield ""


def how_they_lie(found: Document) -> Iterator[str]:
    """Say how the two files lie against each other, and what to beware of."""
    alignment, offset = found["alignment"], found["alignment"]["offset_s"]
    if found["same_file"]:
        yield "Both are the very same file"
    elif not found["same_song"]:
        yield (
            f"The two do not seem to hold the same recording: none of it lines up ({alignment['stretches_matched']} of "
            f"{alignment['stretches_tried']} stretches match). What follows compares them as two songs"
        )
    elif abs(offset) < 0.0005:
        yield "Both start at the same place"
    else:
        moved = "later" if offset > 0.0 else "earlier"
        far = f"{abs(offset) * 1000.0:.1f} ms" if abs(offset) < 1.0 else f"{abs(offset):.3f} s"
        yield f"The same music starts {far} {moved} in the later file; that was taken into account"
    if alignment["upside_down"]:
        yield "The later file is upside down (its polarity is flipped as a whole); alone nobody hears it, beside other tracks it cancels"
    if found["longer_by_s"] is not None:
        much = f"{abs(found['longer_by_s']):.1f} s {'longer' if found['longer_by_s'] > 0 else 'shorter'}"
        yield f"The later file is {much}; readings of the whole song include what the other one lacks"
    if found["louder_by_lu"] is not None and abs(found["louder_by_lu"]) >= 0.1:
        louder = found["louder_by_lu"]
        yield f"The later bounce is {abs(louder):.1f} LU {'louder' if louder > 0 else 'softer'}; that is taken out of all that follows"
    for bounce in ("earlier", "later"):
        for note in found[bounce]["notes"]:
            yield f"{shown(found[bounce]['name'], 60)}: {note}"


def in_short(found: Document) -> str:
    """Return what the change brought, in one sentence."""
    old, new = found["excess"]
    first, second = found["earlier"]["clean_lufs"], found["later"]["clean_lufs"]
    loud = "" if first is None or second is None else f" Clean loudness: {number(first)} LUFS then, {number(second)} LUFS now."
    return f"Still in the way: {number(old)} then, {number(new)} now (1 is one clear finding a full tolerance past its limit).{loud}"


def _sum(found: Document) -> Iterator[str]:
    yield f"**{in_short(found)}**"
    yield ""
    yield f"- Earlier: {plain(found['earlier']['verdict']['sentence'])}"
    yield f"- Later: {plain(found['later']['verdict']['sentence'])}"
    yield ""


def finding_lines(found: Document) -> Iterator[tuple[str, str]]:
    """Return for each state its heading and the findings with it."""
    for state in STATES:
        chosen = [one for one in found["findings"] if one["state"] == state]
        if chosen:
            yield HEADS[state], "; ".join(_words(one) for one in chosen)


def _words(one: Document) -> str:
    if one["state"] == "still there":
        return f"{one['title']} ({number(one['before'])} and {number(one['after'])} past its limit)"
    state: Any = "new" if one["state"] == "only later" else one["state"]
    return finding_words(HistoryFinding(one["rule"], one["stem"], None, None, one["title"], state, one["before"], one["after"], 0))


def _findings(found: Document) -> Iterator[str]:
    yield "## Findings"
    yield ""
    lines = list(finding_lines(found))
    for heading, words in lines:
        yield f"- **{heading}:** {plain(words)}."
    yield "" if lines else "Neither bounce has a finding."
    if lines:
        yield "“Past its limit” counts in tolerances of the finding's own limit."
    yield ""


def _moves(found: Document) -> Iterator[str]:
    if not found["moves"]:
        return
    yield "## Did it go the advised way?"
    yield ""
    yield "What the earlier bounce's findings ask for, and what was measured since, whatever was used to do it:"
    yield ""
    yield "| finding | asked for | measured since | it went | how sure |"
    yield "|---|---|---|---|---|"
    for one in found["moves"]:
        way = WAYS[one["way"]]
        amount = f" ({VERDICTS[one['verdict']]})" if one["way"] == "advised" else ""
        yield (
            f"| {plain(one['title'])} | {plain(sentence(one['move']))} | {plain(measured_words(ComparedMove(**one)))} | {way}{amount} "
            f"| {one['sure']}; {plain(one['sure_because'])} |"
        )
    yield ""


def band_words(one: Document) -> str:
    """Return one region and what happened to it."""
    low, high = (float(f"{one[name]:.2g}") for name in ("low_hz", "high_hz"))
    return f"{frequency(low)} to {frequency(high)}: {one['change_db']:+.1f} dB"


def _bands(found: Document) -> Iterator[str]:
    yield "## Tone, at matched loudness"
    yield ""
    if not found["bands"]:
        yield f"No third octave changed by more than {BAND_STEP_DB:g} dB."
    for one in found["bands"]:
        yield f"- {band_words(one)}"
    yield ""


def _stretches(found: Document) -> Iterator[str]:
    if not found["same_song"]:
        return
    yield "## Along the song, at matched loudness"
    yield ""
    if not found["stretches"]:
        yield f"No stretch of more than three seconds changed by more than {COURSE_STEP_LU:g} LU against the rest."
    for one in found["stretches"]:
        louder = "louder" if one["change_lu"] > 0.0 else "softer"
        yield f"- {clock(one['start_s'])}-{clock(one['end_s'])}: {abs(one['change_lu']):.1f} LU {louder} than before, against the rest"
    yield ""


def _readings(found: Document) -> Iterator[str]:
    yield "## Everything else beyond its reporting step"
    yield ""
    if not found["readings"]:
        yield "Nothing."
    for one in found["readings"]:
        fader = " (the fader alone may do this)" if one["fader"] else ""
        yield f"- {plain(reading_words(ReadingOfBoth(**one)))}{fader}"
    yield ""


def _close(_found: Document) -> Iterator[str]:
    yield "A difference is no judgement: listen to both at one loudness, and trust your ears where they disagree."


def lines(found: Document) -> Iterator[str]:
    """Return what the command line prints."""
    for line in how_they_lie(found):
        yield shown(sentence(line))
    yield in_short(found)
    yield ""
    for heading, words in finding_lines(found):
        yield f"{heading}: {shown(words)}"
    for one in found["moves"]:
        amount = f", {VERDICTS[one['verdict']]}" if one["way"] == "advised" else ""
        yield f"  {shown(one['title'])}: {WAYS[one['way']]}{amount} ({one['sure']}). {shown(measured_words(ComparedMove(**one)))}"
    if found["bands"]:
        yield f"Tone at matched loudness: {'; '.join(band_words(one) for one in found['bands'])}"
    for one in found["stretches"]:
        yield f"{clock(one['start_s'])}-{clock(one['end_s'])}: {one['change_lu']:+.1f} LU against the rest"
    others = [one for one in found["readings"] if not one["fader"]]
    if others:
        more = f"; and {len(others) - MOST_READINGS} more (--out FOLDER writes all)" if len(others) > MOST_READINGS else ""
        yield f"Else: {'; '.join(reading_words(ReadingOfBoth(**one)) for one in others[:MOST_READINGS])}{more}"
