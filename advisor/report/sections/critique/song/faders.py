"""Lists the faders: now, the move, and then."""

from collections.abc import Iterator

from advisor.report.faders import fader_list, first_guess
from advisor.report.filling import filled
from advisor.report_model.report import Report

PLACE = 58


def section(report: Report) -> Iterator[str]:
    """Yield the fader list.

    Nothing without stems.
    """
    rows = fader_list(report)
    if rows:
        yield from filled(__name__, rows=rows, kept=report.settings.audition, guess=first_guess(report))
