"""Finds where a report contradicts itself.

One quantity told with two values, something right that a table shows outside its range, an advice whose cause cannot be there, two
moves that undo each other. Over reports of benchmarks: ``python -m tests.contradictions REPORT.json ...``
"""

import re
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

from advisor.report import markdown
from advisor.report_model.codec import from_json
from advisor.report_model.report import Report
from features.records.elements import Elements

VALUE = r"([-+]?\d+(?:\.\d+)?)"
EXACT_SUM_DB = -60.0  # what such stems leave of the mix is no effect on its bus
BUS_EFFECT = re.compile(r"bus compressor|(?:limiter|clipper|compressor)[^.]* (?:on|off) the mix bus", flags=re.IGNORECASE)
LEAD = re.compile(rf"stands at {VALUE} LU against the whole mix while it plays; {VALUE} to {VALUE} LU")
OPPOSITES = (
    ("mixing/too_bright", "mixing/too_dark"),
    ("mixing/sub_excess", "mixing/sub_lack"),
    ("mixing/ear_band_too_strong", "mixing/ear_band_too_weak"),
    ("mixing/almost_mono", "mixing/low_end_too_wide"),
)


@dataclass(frozen=True, slots=True)
class Quantity:
    """What a report may tell in several places, and how it is told there."""

    name: str
    patterns: tuple[str, ...]


QUANTITIES = (
    Quantity(
        "clean loudness of the mix",
        (
            rf"up to {VALUE} LUFS before the limiter is heard",
            rf"limited to {VALUE} LUFS before the limiter is heard",
            rf"a gentle one is heard past {VALUE} LUFS",
            rf"Not loud enough yet: past {VALUE} LUFS",
            rf"goes before the limiter is heard: {VALUE} LUFS",
            rf"run over the whole song: clean loudness {VALUE} to",
            rf"Clean loudness \S+ to {VALUE} LUFS \(",
        ),
    ),
    Quantity(
        "clean loudness with a fast limiter", (rf"\({VALUE} LUFS with a fast setting\)", rf", {VALUE} LUFS \([^)]*\) with a fast one")
    ),
    Quantity("loudness the chain reaches", (rf"this chain reaches {VALUE} LUFS", rf"Each link was tried on your audio at {VALUE} LUFS")),
    Quantity("sum of kick and bass", (rf"kick and bass add up \({VALUE} dB\)", rf"together come out {VALUE} dB")),
    Quantity("audible share of drum hits", (r"drum hits come through \((\d+)% of each", r"\| Audible share of each drum hit \| (\d+)% \|")),
    Quantity(
        "highest peak over ordinary ones", (rf"the highest is {VALUE} dB over", rf"\| Highest peak over the ordinary ones \| {VALUE} dB")
    ),
    Quantity(
        "loss in mono", (rf"holds up in mono \({VALUE} LU lost", rf"\| Level lost in mono \| {VALUE} LU", rf"loses {VALUE} LU in mono")
    ),
    Quantity(
        "span of the main elements", (rf"main elements span {VALUE} dB", rf"main elements [^|]*? lie within {VALUE} dB of one another")
    ),
    Quantity("lead against the mix", (rf"sits at {VALUE} LU", rf"the lead, stands at {VALUE} LU")),
)


def contradictions(report: Report) -> list[str]:
    """Return what the report says against itself, a line each."""
    text = markdown.whole(report)
    checks = (told_twice(text), elements_told_twice(text, report), good_yet_outside(text, report), without_cause(text, report))
    return [line for check in (*checks, undone(report), at_odds(report)) for line in check]


def told_twice(text: str) -> Iterator[str]:
    """Yield quantities that are told with more than one value."""
    for quantity in QUANTITIES:
        values = [value for pattern in quantity.patterns for value in re.findall(pattern, text)]
        if not agree(values):
            yield f"{quantity.name} is told as {' and '.join(dict.fromkeys(values))}"


def agree(values: Sequence[str]) -> bool:
    """Tell whether all values are one number, each as finely as it is written."""
    for first, second in combinations(dict.fromkeys(values), 2):
        digits = sorted(len(value.partition(".")[2]) for value in (first, second))
        step = 0.0 if digits[0] == digits[1] else 0.5 * 10.0 ** -digits[0]
        if abs(float(first) - float(second)) > step + 1e-9:
            return False
    return True


def elements_told_twice(text: str, report: Report) -> Iterator[str]:
    """Yield elements whose level or audibility is told with more than one value."""
    for stem in report.stems or ():
        name = re.escape(stem.name)
        rows = re.findall(rf"^\| {name} \| [^|]*\| [^|]*\| {VALUE} LU \| (\d+)% \|", text, flags=re.MULTILINE)
        cards = re.findall(
            rf"'{name}' seems about .*?It plays at {VALUE} LU against the mix.*?(\d+)% of it is audible", text, flags=re.DOTALL
        )
        for what, values in zip(("level", "audible share"), zip(*rows, *cards, strict=True), strict=False):
            if not agree(values):
                yield f"the {what} of '{stem.name}' is told as {' and '.join(dict.fromkeys(values))}"


def good_yet_outside(text: str, report: Report) -> Iterator[str]:
    """Yield praise of the mix that its own findings or readings deny."""
    mixing = [card for card in report.findings if card.stage == "mixing" and card.rule != "mixing/short_of_target"]
    if mixing and re.search(r"\bno fault was found", text, flags=re.IGNORECASE):
        yield "no fault is said to be found, and there are findings"
    if any(card.stage == "delivery" for card in report.findings) and "othing is wrong with it" in text:
        yield "nothing is said to be wrong with the file, and there are findings"
    if "Leave the mix as it is" in text and (report.plan or not report.verdict.ready):
        yield "the mix is to be left as it is, and there is something to do"
    for lead, low, high in LEAD.findall(text):
        if not float(low) <= float(lead) <= float(high) and "mixing/lead_level" in report.passed:
            yield f"the lead's level is said to be right, and {lead} LU lies outside {low} to {high}"


def without_cause(text: str, report: Report) -> Iterator[str]:
    """Yield advice about effects on a bus that has none: the stems alone sum to the mix."""
    elements = report.measurements.get(Elements)
    left_db = None if elements is None else elements.mixture.residual_db
    if left_db is not None and left_db <= EXACT_SUM_DB:
        for line in text.splitlines():
            if line.startswith("- **Do:**") and BUS_EFFECT.search(line):
                yield f"the stems sum to the mix, and the advice is: {line.removeprefix('- **Do:** ')}"


def undone(report: Report) -> Iterator[str]:
    """Yield pairs of steps that move one thing both ways."""
    for earlier, later in combinations(report.plan, 2):
        first, second = earlier.remedy, later.remedy
        same = (first.kind, first.part) == (second.kind, second.part) and (
            first.frequency_hz is None or second.frequency_hz is None or 0.8 < first.frequency_hz / second.frequency_hz < 1.25
        )
        if same and (first.gain_db or 0.0) * (second.gain_db or 0.0) < 0.0:
            yield f"step {earlier.step} and step {later.step} undo each other: {earlier.move}; {later.move}"


def at_odds(report: Report) -> Iterator[str]:
    """Yield findings that exclude each other."""
    rules = {card.rule for card in report.findings}
    for pair in OPPOSITES:
        if rules.issuperset(pair):
            yield f"{pair[0]} and {pair[1]} are both told"


def main(paths: Sequence[str]) -> int:
    """Print the contradictions of reports."""
    status = 0
    for path in paths:
        for line in contradictions(from_json(Report, Path(path).read_bytes())):
            sys.stdout.write(f"{path}: {line}\n")
            status = 1
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
