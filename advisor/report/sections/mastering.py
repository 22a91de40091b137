"""The mastering chain."""

from collections.abc import Iterator

from advisor.report.mastering_text import mastering_text
from advisor.report_model.report import Report

PLACE = 70


def section(report: Report) -> Iterator[str]:
    """Yield the lines of the section."""
    return mastering_text(report)
