"""Writing a report's files: all are written aside first, then moved into place one by one."""

import json
import os
import shutil
import tempfile
from pathlib import Path
from typing import Any

from advisor.errors import RequestError
from advisor.report import html, markdown


def write(report: dict[str, Any], folder: Path) -> list[Path]:
    """Write report.json, report.md and report.html into ``folder``; a failure leaves what was there as it was."""
    texts = {
        "report.json": json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False) + "\n",
        "report.md": markdown.render(report),
        "report.html": html.render(report),
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix=".new-", dir=folder))
    except OSError as error:
        raise unwritable(folder, error) from error
    try:
        for name, text in texts.items():
            (aside / name).write_text(text, encoding="utf-8")
        for name in texts:
            os.replace(aside / name, folder / name)  # noqa: PTH105 - atomic on one file system
    except OSError as error:
        raise unwritable(folder, error) from error
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return [folder / name for name in texts]


def unwritable(folder: Path, error: OSError) -> RequestError:
    """Return the error for a folder that cannot be written to."""
    reason = error.strerror or str(error)
    return RequestError(f"The report cannot be written to {folder} ({reason}). Choose another folder with --out.")


def check_writable(folder: Path) -> None:
    """Find out before the work whether the folder can be written to; raises `RequestError`."""
    place = folder
    while not place.exists() and place != place.parent:
        place = place.parent
    if place == folder and not place.is_dir():
        raise RequestError(f"{folder} is a file, so no report can be written into it. Choose another folder with --out.")
    if not place.is_dir() or not os.access(place, os.W_OK | os.X_OK):
        raise RequestError(f"The report cannot be written to {folder} (no permission in {place}). Choose another folder with --out.")
