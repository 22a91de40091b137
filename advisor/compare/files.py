"""Writes a comparison's files."""

from pathlib import Path

from advisor.compare import text
from advisor.report.files import write_text
from advisor.report_model.comparison import Comparison


def write(comparison: Comparison, folder: Path) -> None:
    """Write compare.json, compare.md and compare.html into ``folder``.

    Raises `RequestError` where that cannot be done.
    """
    title = f"{comparison.later.name} against {comparison.earlier.name}"
    write_text("compare", comparison, text.render(comparison), title, folder)
