"""The table of numbers."""

from collections.abc import Iterator

from advisor.report.numbers import table
from advisor.report_model.report import Report

PLACE = 130


def section(report: Report) -> Iterator[str]:
    """Yield the lines of the section."""
    return table(report.measurements)
