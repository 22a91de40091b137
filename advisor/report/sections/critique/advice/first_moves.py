"""What to do first, where nothing was tried."""

from collections.abc import Iterator

from advisor.report.filling import filled
from advisor.report_model.report import Report

PLACE = 30


MOST_MOVES = 5


def section(report: Report) -> Iterator[str]:
    """Yield the rules' own advice. Nothing where remedies were tried."""
    cards = [card for card in report.findings if card.stage == "mixing"][:MOST_MOVES]
    if cards and report.tried_on is None:
        yield from filled(__name__, cards=cards)
