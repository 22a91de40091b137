"""Writes the findings, a card each, by topic."""

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.app.words import STAGES, TOPICS, spans
from advisor.report.attribution_words import attribution_words
from advisor.report.filling import filled
from advisor.report.sections.critique.advice.plan import TrialWords, advice_text, trial_text
from advisor.report_model.findings import FindingCard
from advisor.report_model.master_check import MasterReport
from advisor.report_model.report import Report
from features.records.balance import Target

PLACE = 50


@dataclass(frozen=True, slots=True)
class CardWords:
    """A finding with the words that depend on the report."""

    card: FindingCard
    where: str
    stage: str
    advice: str
    trial: TrialWords | None
    carried: str


def section(report: Report) -> Iterator[str]:
    """Yield the findings by topic."""
    by_topic = ((heading, [card for card in report.findings if card.topic == topic]) for topic, heading in TOPICS.items())
    return filled(
        __name__,
        general_tone=_judged_by_songs_in_general(report),
        topics=[(heading, [card_words(card, report) for card in cards]) for heading, cards in by_topic if cards],
    )


def _judged_by_songs_in_general(report: Report) -> bool:
    target = report.measurements.get(Target)
    return target is not None and not target.songs and any(card.topic in ("tone", "low-end") for card in report.findings)


def card_words(card: FindingCard, report: Report | MasterReport) -> CardWords:
    """Return one finding in the words of its report."""
    return CardWords(
        card, spans(card.where), STAGES[card.stage], advice_text(card, report), trial_text(card, report), attribution_words(card)
    )
