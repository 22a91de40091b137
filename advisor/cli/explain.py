"""`mixproof explain`: one rule's page."""

from typing import Annotated

import typer

from advisor.cli.common import show


def command(rule: Annotated[str, typer.Argument(help="A rule's name, for example mixing/stray_peaks.")]) -> int:
    """Explain one rule.

    The page says what it means, why it matters, what to do, and its limits.
    """
    from advisor.app.settings import find_rule
    from advisor.report.pages import rule_page

    show(rule_page(find_rule(rule)))
    return 0
