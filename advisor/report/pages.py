"""Makes a rule's page from its docstring, words and limits.

docs/rules and `mixproof explain` show the same.
"""

import re
from collections.abc import Iterator
from dataclasses import fields

from rules.base import HEADINGS, Rule


def rule_page(rule: Rule) -> str:
    """Return the rule's page as Markdown."""
    return "\n".join(_lines(rule))


def filled(rule: Rule, text: str) -> str:
    """Return a text with the rule's default limits filled in."""
    defaults = {limit.name: f"{limit.default:g}" for limit in fields(rule.limits)}
    return re.sub(r"{(\w*)[^}]*}", lambda placeholder: defaults.get(placeholder[1], placeholder[0]), text)


def left_open(text: str) -> str:
    """Return a message or an advice with … for readings.

    A reading may bear the name of its limit, but is not the limit.

    >>> left_open("{height_db:.1f} dB above")
    '… dB above'
    """
    return re.sub(r"{[^}]*}", "…", text)


def _lines(rule: Rule) -> Iterator[str]:
    yield f"# {rule.title}"
    yield ""
    yield f"`{rule.id}` · stage: {rule.stage} · topic: {rule.topic} · looks at: {', '.join(kind.__name__ for kind in rule.looks_at)}"
    yield ""
    yield f"> {left_open(rule.message)}"
    yield ">"
    yield f"> *Do this:* {left_open(rule.whole_advice)}"
    yield ""
    for heading in HEADINGS[:-1]:
        yield f"## {heading}"
        yield filled(rule, rule.sections[heading])
        yield ""
    yield "## Limits"
    yield from _limits(rule)
    yield "## Sources"
    yield rule.sections["Sources"]


def _limits(rule: Rule) -> Iterator[str]:
    limits = fields(rule.limits)
    if not limits:
        yield "This rule has no limit to set."
        yield ""
        return
    yield "| limit | default | range | decides | source |"
    yield "|---|---:|---|---|---|"
    for limit in limits:
        meta = limit.metadata
        span = f"{meta['low']:g} to {meta['high']:g}"
        yield f"| `{limit.name}` | {limit.default:g} {meta['unit']} | {span} | {meta['says']} | {meta['source']} |"
    yield ""
    yield "To change one, write in `mixproof.toml` beside your mix:"
    yield ""
    yield f'    [rules."{rule.id}"]'
    yield f"    {limits[0].name} = {limits[0].default:g}"
    yield ""
