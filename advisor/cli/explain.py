"""`mixproof explain`: one rule's page."""

from pathlib import Path
from typing import Annotated

import typer

from advisor.cli.common import settings_folders, show


def command(rule: Annotated[str, typer.Argument(help="A rule's name, for example mixing/stray_peaks.")]) -> int:
    """Explain one rule.

    The page says what it means, why it matters, what to do, and the limits in force in this folder.
    """
    from advisor.app.settings import FILE_NAME, find_rule, load_settings
    from advisor.report.pages import rule_page

    chosen = find_rule(rule)
    show(rule_page(chosen, load_settings(settings_folders(Path(FILE_NAME)), {})))
    return 0
