"""An element's level changed against the earlier bounce.

## What it means
Against the stems of the earlier bounce, this element stands louder or softer than it did, beyond what most of the others did.

## Why it matters
Faders move without one noticing: by a new take, another plug-in, a render at another gain. A change one meant is an answer; one nobody
meant is a fault.

## What to do
Check whether it was intended. If not, move the fader back by that amount. Stop where it stood before, or where the song needs it now.

## Check by ear
Play both bounces at equal loudness and switch in the named passage, listening to this element only.

## Leave it alone when
You changed it on purpose.

## Sources
judgement
"""

from dataclasses import dataclass
from statistics import median

from features.records.elements import Element, Elements
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.elements import MOST_FINDINGS, called, fader, loudest_where, present, titled, worst_first
from rules.shared.excess import past

FEWEST_FOR_A_MIDDLE = 3


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    change_db: float = limit(1.5, unit="dB", low=0.5, high=6.0, source="judgement", says="a larger change is reported")


@rule(
    topic="balance",
    title="Level changed since earlier bounce",
    message="{name} is {change_db:.1f} dB {direction} than in the earlier bounce{beside}.",
    advice="If you did not mean it, move {name} back by {change_db:.1f} dB.",
    stop="where it stood before",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | NotApplicable | None:
    """Compare each element's change with the middle one's.

    So that a bounce at another gain changes nothing.
    """
    compared = [(element.level_plan.since_earlier_db, element) for element in present(elements)]
    changes = [(since_db, element) for since_db, element in compared if since_db is not None]
    if not changes:
        return NotApplicable("no earlier bounce was named in stems.toml")
    common_db = median(since_db for since_db, _ in changes) if len(changes) >= FEWEST_FOR_A_MIDDLE else 0.0
    changed = [(since_db - common_db, element) for since_db, element in changes if abs(since_db - common_db) > limits.change_db]
    beside = ", relative to most of the others" if len(changes) >= FEWEST_FOR_A_MIDDLE else ""
    if len(changed) > MOST_FINDINGS:
        beside += f". {len(changed)} elements changed in all"
    return worst_first([_finding(change_db, element, beside, limits) for change_db, element in changed])


def _finding(change_db: float, element: Element, beside: str, limits: Limits) -> Finding:
    louder = change_db > 0.0
    direction = "louder" if louder else "quieter"
    return Finding(
        excess=past(abs(change_db), limits.change_db, 3.0),
        confidence="high",
        sure_because="the stems of both bounces were measured at one mix level; only you know if it was meant",
        numbers={"name": called(element.name), "change_db": abs(change_db), "direction": direction, "beside": beside},
        cause="level",
        where=loudest_where(element),
        remedy=fader(element.name, -change_db),
        title=f"{titled(element.name)} is {abs(change_db):.1f} dB {direction}",
        stem=element.name,
    )
