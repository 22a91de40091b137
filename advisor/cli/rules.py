"""`mixproof rules`: the rule base."""

from advisor.cli.common import show_table


def command() -> int:
    """List every rule: its name, and what it looks for."""
    from rules.base import all_rules

    rules = all_rules()
    width = max(len(rule.id) for rule in rules)
    rows = [(rule.id, rule.title) for rule in rules]
    show_table(("Rule", "Looks for"), rows, (f"{name.ljust(width)}  {title}" for name, title in rows))
    return 0
