"""Makes a rule's page from its docstring and limits.

docs/rules and `mixproof explain` show the same.
"""

import re
from collections.abc import Iterator
from dataclasses import fields

from advisor.app.settings import Settings
from rules.base import HEADINGS, Rule

DEFAULTS = Settings()


def rule_page(rule: Rule, settings: Settings = DEFAULTS) -> str:
    """Return the rule's page with the limits in force."""
    return "\n".join(_lines(rule, settings))


def filled(rule: Rule, text: str, settings: Settings = DEFAULTS) -> str:
    """Return a text with the rule's limits filled in."""
    limits = settings.limits_of(rule)
    values = {limit.name: f"{getattr(limits, limit.name):g}" for limit in fields(rule.limits)}
    return re.sub(r"{(\w*)[^}]*}", lambda placeholder: values.get(placeholder[1], placeholder[0]), text)


def _lines(rule: Rule, settings: Settings) -> Iterator[str]:
    yield f"# {rule.title}"
    yield ""
    yield f"`{rule.id}` · stage: {rule.stage} · topic: {rule.topic} · looks at: {', '.join(kind.__name__ for kind in rule.looks_at)}"
    yield ""
    for heading in HEADINGS[:-1]:
        yield f"## {heading}"
        yield filled(rule, rule.sections[heading], settings)
        yield ""
    yield "## Limits"
    yield from _limits(rule, settings)
    yield "## Sources"
    yield rule.sections["Sources"]


def amount(value: float, unit: str) -> str:
    """Return a limit's value as it stands in a sentence.

    >>> amount(4.0, "dB"), amount(0.25, "share of the hits")
    ('4 dB', '0.25 (share of the hits)')
    """
    return f"{value:g} ({unit})" if unit.startswith(("share", "-")) else f"{value:g} {unit}".strip()


def _limits(rule: Rule, settings: Settings) -> Iterator[str]:
    if rule.id in settings.disabled:
        yield "This rule is switched off in your settings."
        yield ""
    limits = fields(rule.limits)
    if not limits:
        yield "This rule has no limit to set."
        yield ""
        return
    set_in = {change.limit: change.where for change in settings.changes if change.rule == rule.id}
    for limit in limits:
        meta, value = limit.metadata, getattr(settings.limits_of(rule), limit.name)
        own = f" (set in {set_in[limit.name]}; {limit.default:g} by default)" if limit.name in set_in else ""
        yield (
            f"- `{limit.name}` is {amount(value, meta['unit'])}{own}: {meta['says']}. "
            f"It may be set from {meta['low']:g} to {meta['high']:g}. Source: {meta['source']}."
        )
    yield ""
    yield "To change one, write in `mixproof.toml` beside your mix:"
    yield ""
    yield f'    [rules."{rule.id}"]'
    yield f"    {limits[0].name} = {limits[0].default:g}"
    yield ""
