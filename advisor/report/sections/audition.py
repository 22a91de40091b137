"""What there is to listen to."""

from collections.abc import Iterator

from advisor.report.audition_text import audition_text
from advisor.report_model.report import Report

PLACE = 40


def section(report: Report) -> Iterator[str]:
    """Yield the lines of the section."""
    return audition_text(report)
