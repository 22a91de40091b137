"""A stem is a copy of another one.

## What it means
Two files hold the same sound.

## Why it matters
If both were in the mix, the element would be 6 dB louder than intended; if only one was, the copy stands in for an element that is missing.

## What to do
Look what this file should hold, and render it again or take it out of the folder. Stop when each file holds a sound of its own.

## Check by ear
Play both, one with its polarity flipped: if nothing is left, they are the same.

## Leave it alone when
The doubling is meant and both files are part of the mix.

## Sources
delivery-practice, judgement, power-sums
"""

from dataclasses import dataclass

from features.records.elements import Element, Elements
from rules.base import Finding, limit, rule
from rules.shared.elements import MOST_FINDINGS, called, titled

EXCESS = 0.5  # worth a line, never a place among the first


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    least_playing: float = limit(
        0.0, unit="share of the song", low=0.0, high=0.5, source="judgement", says="a copy that plays for less of the song is not named"
    )


@rule(
    topic="delivery",
    title="Duplicate stem",
    message="{name} holds the same sound as {other}. With both in the mix, it is 6 dB louder.",
    advice="Check what {name} should hold, then render it again or remove it.",
    stop="when every file holds its own sound",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | None:
    """Name stems that hold what another one holds."""
    copies = [
        element
        for element in elements.elements
        if element.copy_of is not None and not element.silent and element.level.plays_share >= limits.least_playing
    ]
    return tuple(_finding(element, element.copy_of or "") for element in copies[:MOST_FINDINGS]) or None


def _finding(element: Element, other: str) -> Finding:
    return Finding(
        excess=EXCESS,
        confidence="high",
        sure_because="both files were compared from start to end",
        numbers={"name": called(element.name), "other": called(other)},
        cause="stems",
        title=f"{titled(element.name)} duplicates {titled(other)}",
        stem=element.name,
    )
