"""Names the master, its mix and the verdict."""

from collections.abc import Iterator

from advisor.report.filling import filled
from advisor.report.sections.critique.front.head import file_facts
from advisor.report_model.master_check import MasterReport
from features.records.level import Level

PLACE = 10


def section(report: MasterReport) -> Iterator[str]:
    """Yield the title, the verdict, the facts and the notes."""
    return filled(__name__, report=report, facts=file_facts(report.master, report.measurements.get(Level)))
