"""What came of the last bounce."""

from collections.abc import Iterator

from advisor.report.since_text import since_text
from advisor.report_model.report import Report

PLACE = 120


def section(report: Report) -> Iterator[str]:
    """Yield the lines of the section."""
    return since_text(report)
