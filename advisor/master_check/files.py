"""Writes the report on a master."""

from pathlib import Path

from advisor.app.paths import beside
from advisor.report.files import write_text
from advisor.report.markdown import whole
from advisor.report_model.master_check import MasterReport
from features.sound.opening.door import ordinary_file


def default_folder(master: Path) -> Path:
    """Return the folder that the report goes to.

    Beside the master.
    """
    ordinary_file(master)  # a folder may have no name that a report's could be made of
    return beside(master.with_name(master.stem), "-check")


def write(report: MasterReport, folder: Path) -> None:
    """Write master-report.json, .md and .html into ``folder``.

    Raises `RequestError` where that cannot be done.
    """
    write_text("master-report", report, whole(report), f"Master check of {report.master.name}", folder)
