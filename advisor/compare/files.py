"""Writes a comparison's files: all are made aside first, then moved into place."""

import json
import os
from pathlib import Path
from typing import Any

from advisor.compare import text
from advisor.report.files import aside
from advisor.report.html import page


def write(found: dict[str, Any], folder: Path) -> None:
    """Write compare.json, compare.md and compare.html into ``folder``; raises `RequestError` where that cannot be done."""
    words = text.render(found)
    texts = {
        "compare.json": json.dumps(found, indent=1, ensure_ascii=False, allow_nan=False) + "\n",
        "compare.md": words,
        "compare.html": page(words, f"{found['later']['name']} against {found['earlier']['name']}"),
    }
    with aside(folder) as place:
        for name, content in texts.items():
            (place / name).write_text(content, encoding="utf-8")
        for name in texts:
            os.replace(place / name, folder / name)  # noqa: PTH105 - atomic on one file system
