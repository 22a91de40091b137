"""Says what to mind about a master check."""

from collections.abc import Iterator

from advisor.report.filling import filled
from advisor.report_model.master_check import MasterReport

PLACE = 80


def section(_report: MasterReport) -> Iterator[str]:
    """Yield the cautions, which are the same in every report."""
    return filled(__name__)
