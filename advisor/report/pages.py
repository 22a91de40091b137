"""A rule's page, made from its docstring, words and limits; docs/rules and `mixproof explain` show the same."""

import re
from collections.abc import Iterator
from dataclasses import fields

from rules.base import HEADINGS, Rule


def rule_page(one: Rule) -> str:
    """Return the rule's page as Markdown."""
    return "\n".join(_lines(one))


def filled(one: Rule, text: str) -> str:
    """Return a text of the docstring with the defaults of the rule's limits in its placeholders."""
    defaults = {each.name: f"{each.default:g}" for each in fields(one.limits)}
    return re.sub(r"{(\w*)[^}]*}", lambda found: defaults.get(found[1], found[0]), text)


def left_open(text: str) -> str:
    """Return a message or an advice with … for every reading; a reading may bear the name of its limit, but is not the limit.

    >>> left_open("{height_db:.1f} dB above")
    '… dB above'
    """
    return re.sub(r"{[^}]*}", "…", text)


def _lines(one: Rule) -> Iterator[str]:
    yield f"# {one.title}"
    yield ""
    yield f"`{one.id}` · stage: {one.stage} · topic: {one.topic} · looks at: {', '.join(kind.__name__ for kind in one.looks_at)}"
    yield ""
    yield f"> {left_open(one.message)}"
    yield ">"
    yield f"> *Do this:* {left_open(one.whole_advice)}"
    yield ""
    for heading in HEADINGS[:-1]:
        yield f"## {heading}"
        yield filled(one, one.sections[heading])
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
