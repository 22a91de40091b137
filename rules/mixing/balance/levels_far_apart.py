"""The main elements lie far apart in level.

## What it means
Between the loudest and the softest of the elements that carry the song there are many decibels, each taken while it plays.

## Why it matters
On small speakers and at low volume only what is near the top stays. Mixes that sound close and full keep their main elements within a few
decibels of each other.

## What to do
Move the outliers at both ends towards the others, the furthest one first, no more than 4 dB at once. Stop when each main element is
heard at low volume; all at one level leaves nothing in front.

## Check by ear
Turn the song down until only one element is left, then turn up slowly and note the order in which the others appear.

## Leave it alone when
The distance between front and back is what the song is built on, as in sparse or acoustic music.

## Sources
element-levels, judgement, level-practice
"""

from dataclasses import dataclass
from math import copysign

from features.records.elements import Element, Elements
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.elements import at_once_db, called, fader, in_steps, loudest_where, titled
from rules.shared.excess import missing, past

HALF_WAY = 0.5


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    apart_db: float = limit(
        12.0, unit="dB", low=4.0, high=30.0, source="judgement", says="main elements that lie further apart are reported"
    )
    close_db: float = limit(3.0, unit="dB", low=1.0, high=12.0, source="level-practice", says="what close mixes keep; only named beside it")
    agrees_db: float = limit(
        4.0,
        unit="dB",
        low=0.0,
        high=20.0,
        source="judgement",
        says="unless the outlier lies this far from the usual on the same side, its role simply lies there",
    )


@rule(
    topic="balance",
    title="Main elements far apart",
    message=(
        "Your main elements span {closeness_db:.0f} dB, from {loudest} down to {softest}. Close mixes of this kind stay "
        "within {close_db:.0f} dB."
    ),
    advice="Move {name} about {change_db:+.0f} dB{steps}, towards the others.",
    stop="when every main element comes through at low volume",
)
def check(elements: Elements, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the span of the main elements with the limit.

    The one furthest from the middle is the one to move.
    """
    if elements.closeness_db is None:
        return missing(elements, "closeness_db")
    main = [
        element
        for element in (elements.named(name) for name in elements.main)
        if element is not None and element.level.while_playing_lu is not None
    ]
    if elements.closeness_db <= limits.apart_db or not main:
        return None
    loudest, softest = max(main, key=_loudness), min(main, key=_loudness)
    outlier = max((loudest, softest), key=lambda element: abs(element.level_plan.stands_out_db or 0.0))
    off_db, beside_usual_db = outlier.level_plan.stands_out_db or 0.0, outlier.level_plan.off_db
    if any(move.group is not None and outlier.name in move.names for move in elements.moves):
        return None  # it is told of the whole group
    if off_db == 0.0 or (beside_usual_db is not None and beside_usual_db * off_db < limits.agrees_db * abs(off_db)):
        return None
    change_db = -copysign(at_once_db(HALF_WAY * abs(off_db), "low"), off_db)
    return Finding(
        excess=past(elements.closeness_db, limits.apart_db, 4.0),
        confidence="low",
        sure_because="how close levels should be is common practice without a study behind it, and songs differ widely",
        numbers={"closeness_db": elements.closeness_db, "loudest": called(loudest.name), "softest": called(softest.name),
                 "close_db": limits.close_db, "name": called(outlier.name), "change_db": change_db,
                 "steps": in_steps(HALF_WAY * off_db, change_db)},
        cause="level",
        where=loudest_where(outlier),
        remedy=fader(outlier.name, change_db),
        title=f"{titled(outlier.name, 24)} far from the rest",
        stem=outlier.name,
        exact=True,
    )  # fmt: skip


def _loudness(element: Element) -> float:
    return element.level.while_playing_lu or 0.0
