"""The bass disappears on small speakers.

## What it means
Nearly all of the bass lies below 150 Hz, where a laptop or a kitchen radio plays next to nothing. It has no overtones by which the ear
could follow the line there.

## Why it matters
Listeners on small speakers hear the song without its bass line, and often without its harmony's ground.

## What to do
Add overtones: saturate the bass, or double it an octave higher, softly. Raising its level or its lows does not help. Stop when the line
can be followed on a laptop.

## Check by ear
Play the clip of the condition, or put a high-pass at 200 Hz on the mix bus: can you sing the bass line along?

## Leave it alone when
It is a sub that is meant to be felt, and another element carries the line higher up.

## Sources
elsewhere-survey, judgement
"""

from dataclasses import dataclass

from features.records.ear import Elsewhere
from features.records.elements import Element, Elements
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called, loudest_where, titled, worst_first
from rules.shared.elsewhere import SMALL, left_over, of_role, overtones_db, places
from rules.shared.excess import past

DRIVE_DB = 6.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    kept_share: float = limit(
        0.1,
        unit="share left",
        low=0.01,
        high=0.5,
        source="elsewhere-survey",
        says="a bass that keeps less on a laptop or a radio is reported",
    )
    overtones_db: float = limit(
        -10.0, unit="dB", low=-60.0, high=-3.0, source="judgement", says="and only when its level above 150 Hz lies further below all of it"
    )


@rule(
    topic="balance",
    title="Bass disappears on small speakers",
    message=("{place_start}, {left:.0%} of {name} is left, against full-range speakers. Above 150 Hz it holds {overtones}."),
    advice="Add overtones to {name} by saturation, or double it softly an octave higher.",
    stop="when you can follow the line on a laptop",
)
def check(elsewhere: Elsewhere, elements: Elements, limits: Limits) -> tuple[Finding, ...] | NotApplicable | None:
    """Report the bass that small speakers nearly lose."""
    basses = of_role(elements, "bass")
    if not basses:
        return NotApplicable("no element plays the bass")
    findings = [finding for element in basses if (finding := _finding(element, elsewhere, limits)) is not None]
    return (worst_first(findings) or ())[:1] or None


def _finding(element: Element, elsewhere: Elsewhere, limits: Limits) -> Finding | None:
    there = [pair for pair in left_over(elsewhere, element, SMALL) if pair[1].kept < limits.kept_share]
    above_db = overtones_db(element)
    if not there or above_db is None or above_db >= limits.overtones_db:
        return None
    words = places([song for song, _ in there])
    return Finding(
        excess=past(-there[0][1].kept, -limits.kept_share, 0.04),
        confidence="low",
        sure_because="basses of finished songs disappear there too when they are meant as a sub",
        numbers={
            "name": called(element.name),
            "left": there[0][1].kept,
            "place_start": f"{words[:1].upper()}{words[1:]}",
            "overtones": "next to nothing" if above_db < -40.0 else f"only what lies {-above_db:.0f} dB below all of it",
        },
        cause="lack",
        where=loudest_where(element),
        remedy=Remedy(kind="saturation", part=element.name, gain_db=DRIVE_DB),
        title=f"{titled(element.name, 20)} disappears on small speakers",
        stem=element.name,
    )
