"""The mix against its references."""

from collections.abc import Iterator

from advisor.report.references_text import references_text
from advisor.report_model.report import Report

PLACE = 110


def section(report: Report) -> Iterator[str]:
    """Yield the lines of the section."""
    return references_text(report)
