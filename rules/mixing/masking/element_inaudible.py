"""An element of which next to nothing is heard.

## What it means
While this element plays, others lie so far above it at its own frequencies that almost none of it comes through. How much of it stays
audible is estimated from masking against the sum of all the others.

## Why it matters
What nobody hears still takes headroom, and whatever it was meant to add to the song is missing.

## What to do
Raise its fader, or cut a little of what masks it. Or leave it out: if nothing is missed, the song is better off without. Stop as soon as
it is heard where it matters; an element that was not heard rarely needs to lead.

## Check by ear
Mute it in the named passage and bring it back several times with your eyes closed: can you tell which is which?

## Leave it alone when
It only thickens another sound, such as a doubled part or a reverb, and the difference is heard when it is muted.

## Sources
judgement, masking-of-elements, masking-survey
"""

from dataclasses import dataclass

from features.records.elements import Element, Elements
from rules.base import Confidence, Finding, limit, rule
from rules.shared.elements import (
    INAUDIBLE_SHARE,
    at_once_db,
    buried_where,
    called,
    cut,
    fader,
    in_steps,
    inaudible,
    known,
    listed,
    pan_apart,
    present,
    titled,
    worst_first,
)
from rules.shared.excess import past, within
from rules.shared.level_signs import Limits as LevelLimits
from rules.shared.level_signs import brings_about, heard_then, suspects

LEAST_DB = 3.0
FAR_DB = 7.5  # below where such elements stand
USUAL_DB = 6.0  # where nothing says how far the others stand above it


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    audible_share: float = limit(
        INAUDIBLE_SHARE,
        unit="share heard",
        low=0.02,
        high=0.5,
        source="masking-survey",
        says="an element of which less is heard is reported",
    )
    most_db: float = limit(9.0, unit="dB", low=3.0, high=18.0, source="judgement", says="the most it is thought to need")


def needed_db(element: Element, limits: Limits) -> float:
    """Return how far to raise it.

    What the covers stand above it, weighted by what they hide.
    """
    weight = sum(cover.share for cover in element.masking.covered_by)
    if weight <= 0.0:
        return USUAL_DB
    above_db = sum(cover.share * cover.excess_db for cover in element.masking.covered_by) / weight
    return within(above_db, LEAST_DB, limits.most_db)


def sureness(element: Element, share: float, limits: Limits) -> tuple[Confidence, str]:
    """Return how sure the finding is."""
    if element.role == "effects":
        return "low", "effects often work without standing out"
    if share < limits.audible_share / 2.0:
        return "high", "the others are far louder in every band it plays in"
    return "medium", "it is estimated from masking, and the ear sometimes follows a line the estimate misses"


@rule(
    topic="masking",
    title="Element barely audible",
    message="{audible:.0%} of {name} is audible in the mix while it plays. {covers} it.",
    advice="Raise {name} about {rise_db:.0f} dB{steps}, or leave it out.",
    stop="as soon as it comes through where it matters",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | None:
    """Report every element below the limit of audibility.

    It does so with others set right; a group is reported together.
    """
    together = {name for move in suspects(elements, LevelLimits()) if move.group is not None for name in move.names}
    gone = [element for element in present(elements) if inaudible(element, limits.audible_share) and element.name not in together]
    alone = {move.names[0] for move in suspects(elements, LevelLimits())}
    gone = [element for element in gone if element.name in alone or (heard_then(element) or 0.0) < limits.audible_share]
    return worst_first([_finding(element, elements, limits) for element in gone])


def _finding(element: Element, elements: Elements, limits: Limits) -> Finding:
    share = element.masking.audible_share or 0.0
    covers = element.masking.covered_by
    confidence, sure_because = sureness(element, share, limits)
    wanted_db = needed_db(element, limits)
    rise_db = at_once_db(wanted_db, confidence)
    first = covers[0] if covers else None
    free = first is not None and not first.essential
    return Finding(
        excess=max(past(-share, -limits.audible_share, 0.03), past(-(element.level_plan.off_db or 0.0), FAR_DB, 2.5)),
        confidence=confidence,
        sure_because=sure_because,
        numbers={
            "name": called(element.name), "audible": share, "rise_db": rise_db, "steps": in_steps(wanted_db, rise_db),
            "covers": f"{listed([cover.by for cover in covers])} mask{'s' if len(covers) == 1 else ''}" if covers else "The others mask",
        },
        cause="level",
        where=buried_where(element),
        remedy=fader(element.name, rise_db),
        title=f"{titled(element.name, 30)} is barely audible",
        stem=element.name,
        explains=brings_about((element.name,), elements, louder=False),
        others=known(
            None if first is None else pan_apart(element, first, elements),
            cut(first.by, first.band_hz, within(first.excess_db / 2.0, 2.0, 6.0)) if first is not None and free else None,
        ),
    )  # fmt: skip
