"""An element has little of its dynamics left.

## What it means
Several signs agree: its attacks hardly differ in height, its peaks hardly stand above its body, and what should rise and fall stays level.

## Why it matters
Without attacks it does not come forward however loud it is made, and what it lost cannot be had back from this file.

## What to do
Go back to the take before it was compressed and compress less, with a slower attack. Stop when its attacks stand clear of its body again.

## Check by ear
Solo it at low volume beside another element of the song that you find lively: can you hear where each note starts?

## Leave it alone when
It is a sustained sound by nature, such as a pad, an organ or a distorted guitar, or the flatness is its effect.

## Sources
judgement, level-practice
"""

from dataclasses import dataclass

from features.records.elements import Element, ElementDynamics, Elements
from rules.base import Finding, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import PLAYED, called, present, titled, worst_first
from rules.shared.excess import past
from rules.shared.spans import MOST_SPANS
from rules.shared.words import sentences


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    fewest_signs: float = limit(2.0, unit="signs", low=2.0, high=5.0, source="level-practice", says="with fewer signs, nothing is said")
    signs_a_step: float = limit(
        2.0, unit="signs", low=0.5, high=5.0, source="judgement", says="so many more signs make it one step weightier"
    )


@rule(
    topic="dynamics",
    title="Over-compressed element",
    message="{name} has little dynamics left. {signs}.",
    advice="Go back to {name} before its compression, and compress less.",
    stop="when its attacks stand out from its body again",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | None:
    """Report elements found over-compressed by agreeing signs.

    No processor can mend them.
    """
    compressed = [(element, element.dynamics) for element in present(elements)]
    return worst_first(
        [
            _finding(element, its, limits)
            for element, its in compressed
            if its is not None and its.state == "over-compressed" and len(its.signs) >= limits.fewest_signs
        ]
    )


def _finding(element: Element, its: ElementDynamics, limits: Limits) -> Finding:
    return Finding(
        excess=past(len(its.signs), limits.fewest_signs - 1.0, limits.signs_a_step),
        confidence="medium" if element.role in PLAYED else "low",
        sure_because=f"{len(its.signs)} signs agree; a steady sound can look the same",
        numbers={"name": called(element.name), "signs": sentences(its.signs)},
        cause="density",
        where=its.where[:MOST_SPANS],
        remedy=Remedy(kind="none", part=element.name),
        title=f"{titled(element.name, 30)} is over-compressed",
        stem=element.name,
    )
