"""Says what could not be judged of the master."""

from collections.abc import Iterator

from advisor.report.filling import filled
from advisor.report_model.master_check import MasterReport

PLACE = 70


def section(report: MasterReport) -> Iterator[str]:
    """Yield what is open or failed. Nothing where nothing is."""
    if report.not_applicable or report.failed:
        yield from filled(__name__, report=report)
