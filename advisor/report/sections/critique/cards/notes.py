"""Tells what was noticed about the files."""

from collections.abc import Iterator

from advisor.report.filling import filled
from advisor.report_model.report import Report

PLACE = 125


def section(report: Report) -> Iterator[str]:
    """Yield the notes.

    Nothing without any.
    """
    if report.notes:
        yield from filled(__name__, notes=report.notes)
