"""Writes a comparison's files."""

import json
from pathlib import Path
from typing import Any

from advisor.compare import text
from advisor.report.files import write_text
from advisor.report_model.codec import from_json
from advisor.report_model.comparison import Comparison


def write(found: dict[str, Any], folder: Path) -> None:
    """Write compare.json, compare.md and compare.html into ``folder``; raises `RequestError` where that cannot be done."""
    write_text(
        "compare",
        from_json(Comparison, json.dumps(found)),
        text.render(found),
        f"{found['later']['name']} against {found['earlier']['name']}",
        folder,
    )
