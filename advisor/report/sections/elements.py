"""The elements."""

from collections.abc import Iterator

from advisor.report.elements_text import elements_text
from advisor.report_model.report import Report

PLACE = 60


def section(report: Report) -> Iterator[str]:
    """Yield the lines of the section."""
    return elements_text(report)
