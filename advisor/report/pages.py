"""A rule's page, made from its docstring, words and limits; docs/rules and `mixproof explain` show the same."""

import re
from collections.abc import Iterator
from dataclasses import fields

from rules.base import HEADINGS, Rule


def rule_page(one: Rule) -> str:
    """Return the rule's page as Markdown."""
    return "\n".join(_lines(one))


def _lines(one: Rule) -> Iterator[str]:
    yield f"# {one.title}"
    yield ""
    yield f"`{one.id}` · stage: {one.stage} · topic: {one.topic} · looks at: {', '.join(kind.__name__ for kind in one.looks_at)}"
    yield ""
    yield f"> {re.sub(r'{[^}]*}', '…', one.message)}"
    yield ""
    for heading in HEADINGS[:-1]:
        yield f"## {heading}"
        yield one.sections[heading]
        yield ""
    yield "## Limits"
    yield from _limits(one)
    yield "## Sources"
    yield one.sections["Sources"]


def _limits(one: Rule) -> Iterator[str]:
    limits = fields(one.limits)
    if not limits:
        yield "This rule has no limit to set."
        yield ""
        return
    yield "| limit | default | range | decides | source |"
    yield "|---|---:|---|---|---|"
    for each in limits:
        meta = each.metadata
        yield (
            f"| `{each.name}` | {each.default:g} {meta['unit']} | {meta['low']:g} to {meta['high']:g} | {meta['says']} | {meta['source']} |"
        )
    yield ""
    yield "To change one, write in `mixproof.toml` beside your mix:"
    yield ""
    yield f'    [rules."{one.id}"]'
    yield f"    {limits[0].name} = {limits[0].default:g}"
    yield ""
