"""An element that you put behind stands in front.

## What it means
You stated the order, in stems.toml or with --front. While both play, the one further back is the louder one, by more than
the ear forgives.

## Why it matters
What is loudest is heard as the front. The song then tells another story than the one you meant.

## What to do
Pull the fader of the one further back, in small steps, before raising the one in front: that costs no headroom. Stop when
the one in front leads again.

## Check by ear
Play the song very softly. What you still hear last is in front.

## Leave it alone when
The one in front is meant to be felt more than heard, or it cuts through by its tone. Then change the order.

## Sources
judgement
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from features.records.elements import Element, Elements
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.elements import at_once_db, called, fader, loudest_where, titled, worst_first
from rules.shared.excess import past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    over_lu: float = limit(
        3.0, unit="LU", low=0.5, high=12.0, source="judgement", says="an element further back that is louder by more than this is reported"
    )


@rule(
    topic="balance",
    title="Stated order not kept",
    message="{behind} plays {over_lu:.1f} LU louder than {front}, and you put {front} in front of it.",
    advice="Pull {behind} down about {change_db:.1f} dB.",
    stop="when {front} leads again",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | NotApplicable | None:
    """Report what is louder than what it was put behind.

    Each element against the one that it passes by most.
    """
    if len(elements.front) < 2:
        return NotApplicable("no order was stated (--front, or front in stems.toml)")
    worst: dict[str, Finding] = {}
    for finding in _passing(elements, limits):
        name = finding.stem or ""
        if name not in worst or finding.excess > worst[name].excess:
            worst[name] = finding
    return worst_first(list(worst.values()))


def _passing(elements: Elements, limits: Limits) -> Iterator[Finding]:
    stated = [element for name in elements.front if (element := elements.named(name)) is not None]
    for front, behind in combinations(stated, 2):
        over_lu = _over_lu(front, behind)
        if over_lu is not None and over_lu > limits.over_lu:
            yield _finding(front, behind, over_lu, limits)


def _over_lu(front: Element, behind: Element) -> float | None:
    levels = front.level.while_playing_lu, behind.level.while_playing_lu
    return None if levels[0] is None or levels[1] is None else levels[1] - levels[0]


def _finding(front: Element, behind: Element, over_lu: float, limits: Limits) -> Finding:
    change_db = at_once_db(over_lu, "medium")
    return Finding(
        excess=past(over_lu, limits.over_lu, 3.0),
        confidence="medium",
        sure_because="both were measured while they play, and the order is your own",
        numbers={"behind": called(behind.name), "front": called(front.name), "over_lu": over_lu, "change_db": change_db},
        cause="level",
        where=loudest_where(behind),
        remedy=fader(behind.name, -change_db),
        title=f"{titled(behind.name)} in front of {titled(front.name)}",
        stem=behind.name,
    )
