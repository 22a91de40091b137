"""Writes what to look at before release, as cards."""

from collections.abc import Iterator

from advisor.report.filling import filled
from advisor.report.sections.critique.cards.findings import card_words
from advisor.report_model.master_check import MasterReport

PLACE = 15


def section(report: MasterReport) -> Iterator[str]:
    """Yield the findings."""
    return filled(__name__, cards=[card_words(card, report) for card in report.findings])
