"""`mixproof compare`: two bounces of one song."""

from pathlib import Path
from typing import Annotated

import typer

from advisor.cli.common import progress, settings_folders, show


def command(
    earlier: Annotated[Path, typer.Argument(help="The earlier bounce.")],
    later: Annotated[Path, typer.Argument(help="The later bounce of the same song.")],
    stems: Annotated[
        tuple[Path, Path] | None,
        typer.Option(help="Two folders of stems, the earlier bounce's and the later one's: then each element is compared with itself."),
    ] = None,
    target: Annotated[float | None, typer.Option(help="Loudness the master should reach, in LUFS (default -13).")] = None,
    ceiling: Annotated[float | None, typer.Option(help="Highest true peak of the master, in dBTP (default -1).")] = None,
    out: Annotated[Path | None, typer.Option(help="Write compare.html, compare.md and compare.json into this folder.")] = None,
) -> int:
    """Say what changed from one bounce to the next.

    The bounces are compared at matched loudness; what the changes did to each finding is said.
    """
    from advisor.app.settings import load_settings
    from advisor.cli.critique import first_words
    from advisor.compare import files, text
    from advisor.compare.compare import compare, measured_pair
    from advisor.report.files import check_writable

    settings = load_settings(settings_folders(later), {"target_lufs": target, "ceiling_dbtp": ceiling})
    if out is not None:
        check_writable(out)
    line = progress()
    comparison = compare(measured_pair(earlier, later, settings, line, first_words(), stems))
    line.step("")
    if out is not None:
        files.write(comparison, out)
    for words in text.lines(comparison):
        show(words)
    if out is not None:
        show()
        show(f"The whole comparison: {out / 'compare.html'} (also compare.md and compare.json)")
    return 0
