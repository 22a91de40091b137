"""What to mind."""

from collections.abc import Iterator

from advisor.report.filling import filled
from advisor.report_model.report import Report

PLACE = 120


def section(_report: Report) -> Iterator[str]:
    """Yield the cautions, which are the same in every report."""
    return filled(__name__)
