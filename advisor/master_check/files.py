"""Writes the report on a master."""

from pathlib import Path
from typing import Any

from advisor.report.files import write_text
from advisor.report.master_text import render


def default_folder(master: Path) -> Path:
    """Return the folder that the report goes to.

    Beside the master.
    """
    return master.with_name(f"{master.stem}-check")


def write(report: dict[str, Any], folder: Path) -> None:
    """Write master-report.json, .md and .html into ``folder``.

    Raises `RequestError` where that cannot be done.
    """
    write_text("master-report", report, render(report), f"Master check of {report['master']['name']}", folder)
