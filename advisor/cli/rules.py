"""`mixproof rules`: the rule base."""

from advisor.cli.common import show


def command() -> int:
    """List every rule: its name, and what it looks for."""
    from rules.base import all_rules  # noqa: PLC0415

    width = max(len(one.id) for one in all_rules())
    for one in all_rules():
        show(f"{one.id.ljust(width)}  {one.title}")
    return 0
