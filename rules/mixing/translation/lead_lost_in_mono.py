"""The lead sinks away in mono.

## What it means
Most of the lead lies in the sides: left and right of it cancel when they are added, as a phone, a small portable speaker or
a kitchen radio does.

## Why it matters
Those listeners lose the voice or the melody that the song is about.

## What to do
Narrow the lead until its middle carries it, or take back the widener, the doubling or the reversed polarity that put it into the sides.
Stop when the lead holds its place in mono.

## Check by ear
Switch the mix bus to mono: does the lead step back?

## Leave it alone when
A second track in the middle sings or plays the same line.

## Sources
elsewhere-survey
"""

from dataclasses import dataclass

from features.records.ear import ElementElsewhere, Elsewhere, SongElsewhere
from features.records.elements import Elements
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called, loudest_where, titled
from rules.shared.elsewhere import places
from rules.shared.excess import past

LEADS = frozenset({"vocal", "lead"})


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    loss_db: float = limit(6.0, unit="dB", low=3.0, high=20.0, source="elsewhere-survey", says="a lead that loses more in mono is reported")


@rule(
    topic="space",
    title="Lead sinks away in mono",
    message="{name} loses {loss_db:.0f} dB in mono, since most of it lies in the sides. So it is {places}.",
    advice="Narrow {name}, or take back the widener or the reversed polarity on it.",
    stop="when it holds its place in mono",
)
def check(elsewhere: Elsewhere, elements: Elements, limits: Limits) -> Finding | NotApplicable | None:
    """Report the lead that mono takes away."""
    mono = [there for there in elsewhere.conditions if there.mono]
    leads = {element.name for element in elements.elements if element.role in LEADS or element.name == elements.lead}
    if not leads:
        return NotApplicable("no vocal and no lead is known")
    losses = [(its.mono_loss_db or 0.0, its, there) for there in mono for its in there.elements if its.name in leads]
    if not losses:
        return NotApplicable("no lead is audible at the desk, or no condition in mono was chosen")
    loss_db, worst, _ = max(losses, key=lambda lost: lost[0])
    if loss_db <= limits.loss_db:
        return None
    return _finding(elements, limits, (loss_db, worst), [there for _, its, there in losses if its.name == worst.name])


def _finding(elements: Elements, limits: Limits, lost: tuple[float, ElementElsewhere], there: list[SongElsewhere]) -> Finding:
    loss_db, its = lost
    element = elements.named(its.name)
    return Finding(
        excess=past(loss_db, limits.loss_db, 2.0),
        confidence="medium",
        sure_because="its own stem was folded to mono and measured",
        numbers={"name": called(its.name), "loss_db": loss_db, "places": places(there[:2])},
        cause="width",
        where=() if element is None else loudest_where(element),
        remedy=Remedy(kind="none", part=its.name),
        title=f"{titled(its.name, 30)} sinks away in mono",
        stem=its.name,
    )
