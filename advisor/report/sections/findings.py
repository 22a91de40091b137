"""The findings, a card each."""

from collections.abc import Iterator

from advisor.app.words import STAGES, TOPICS, plain, sentence, spans
from advisor.report.plan_text import advice_text, trial_text
from advisor.report_model.findings import FindingCard
from advisor.report_model.master_check import MasterReport
from advisor.report_model.report import Report
from features.records.balance import Target

PLACE = 50


def section(report: Report) -> Iterator[str]:
    """Yield the findings by topic."""
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
