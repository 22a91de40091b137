"""Shows where the tone is unlike that of songs."""

from collections.abc import Iterator

from advisor.report.filling import filled
from advisor.report.unusual_tone import unusual_tone
from advisor.report_model.report import Report

PLACE = 60


def section(report: Report) -> Iterator[str]:
    """Yield the rarest regions.

    Nothing where none lies off by much.
    """
    regions = unusual_tone(report)
    if regions:
        yield from filled(
            __name__, regions=regions, judged_by=regions[0].judged_by, general_tone=regions[0].judged_by == "songs in general"
        )
