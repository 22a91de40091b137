"""Writes the report on a master: everything aside first, then moved into place."""

import json
import os
from pathlib import Path
from typing import Any

from advisor.report.files import aside
from advisor.report.html import page
from advisor.report.master_text import render


def default_folder(master: Path) -> Path:
    """Return the folder that the report goes to: beside the master."""
    return master.with_name(f"{master.stem}-check")


def write(report: dict[str, Any], folder: Path) -> None:
    """Write master-report.json, .md and .html into ``folder``; raises `RequestError` where that cannot be done."""
    words = render(report)
    texts = {
        "master-report.json": json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False) + "\n",
        "master-report.md": words,
        "master-report.html": page(words, f"Master check of {report['master']['name']}"),
    }
    with aside(folder) as place:
        for name, content in texts.items():
            (place / name).write_text(content, encoding="utf-8")
        for name in texts:
            os.replace(place / name, folder / name)  # noqa: PTH105 - atomic on one file system
