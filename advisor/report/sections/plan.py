"""The plan."""

from collections.abc import Iterator

from advisor.report.plan_text import plan_text
from advisor.report_model.report import Report

PLACE = 20


def section(report: Report) -> Iterator[str]:
    """Yield the lines of the section."""
    return plan_text(report)
