"""The level steps all at once.

## What it means
From one moment to the next the whole mix becomes softer or louder, every part of the spectrum by the same amount. Where it comes back by as
much, passages alternate in level.

## Why it matters
An arrangement changes some instruments and leaves others; a step that all share comes from a fader, a clip's gain or a bounce in pieces.
It sounds like somebody turned the volume, and mastering sets its level by the louder part.

## What to do
Look at automation, clip gain and the ends of regions at that place, and take the step back. Stop when the part that follows is as
loud as the same instruments before.

## Check by ear
Play across the place at a steady volume: does the whole mix step as if turned?

## Leave it alone when
The step is meant: a part that is turned down on purpose, a radio effect, a hard cut to another scene.

## Sources
step-survey
"""

from dataclasses import dataclass
from itertools import pairwise

from features.records.base import Moment
from features.records.sections import Sections
from features.sound.clock import clock
from rules.base import Confidence, Finding, limit, rule
from rules.shared.excess import past
from rules.shared.spans import spans_of


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    step_db: float = limit(3.0, unit="dB", low=1.0, high=12.0, source="step-survey", says="a larger step that all bands share is reported")
    clear_db: float = limit(6.0, unit="dB", low=2.0, high=20.0, source="step-survey", says="from here on it is more than a hint")
    turn_db: float = limit(
        5.0, unit="dB", low=2.0, high=20.0, source="step-survey", says="or from here on, where the level comes back by as much"
    )


MANY_TURNS = 2
BACK_SHARE = 0.3  # of the larger step: how far down and up may differ
BOUNDARY_S = 0.5


def turns(steps: tuple[Moment, ...]) -> list[float]:
    """Return how large each way down and back is.

    Or up and back: neighbouring steps of opposite sign and nearly one size. The lesser of both counts.
    """
    pairs = [(abs(step.value), abs(later.value)) for step, later in pairwise(steps) if step.value * later.value < 0.0]
    return [min(pair) for pair in pairs if max(pair) - min(pair) <= BACK_SHARE * max(pair)]


def at_a_boundary(step: Moment, sections: Sections) -> bool:
    """Return whether a part of the song begins there."""
    middle_s = (step.start_s + step.end_s) / 2.0
    return any(abs(section.start_s - middle_s) <= BOUNDARY_S for section in sections.sections[1:])


@rule(
    topic="dynamics",
    title="Sudden level change",
    message="At {minutes} the whole mix changes by {step_db:+.1f} dB, all bands alike, as if a fader had moved.{again}",
    advice="Undo the automation, clip gain or region edge at {minutes}, by {back_db:+.1f} dB.",
    stop="when both sides are equally loud",
    shared="step",
)
def check(sections: Sections, limits: Limits) -> Finding | None:
    """Report the largest step that all bands share."""
    beyond = tuple(moment for moment in sections.even_steps if abs(moment.value) > limits.step_db)
    if not beyond:
        return None
    steps = sorted(beyond, key=lambda moment: -abs(moment.value))
    worst, back = steps[0], turns(beyond)
    minutes = clock(round((worst.start_s + worst.end_s) / 2.0))
    single = abs(worst.value) >= limits.clear_db and at_a_boundary(worst, sections)
    comes_back = len(back) >= MANY_TURNS or max(back, default=0.0) >= limits.turn_db
    confidence: Confidence = "medium" if single or comes_back else "low"
    size_db = sum(abs(step.value) for step in beyond) / len(beyond)
    again = f" The level goes down and up {len(beyond)} times in all, by about {size_db:.0f} dB." if back else ""
    return Finding(
        excess=past(abs(worst.value), limits.step_db, 3.0),
        confidence=confidence,
        sure_because="all bands change alike, which an arrangement seldom does; only you know if it is meant",
        numbers={"minutes": minutes, "step_db": worst.value, "back_db": -worst.value, "again": again},
        cause="unsteady",
        title=f"Level alternates by {size_db:.0f} dB" if comes_back else f"Sudden level change at {minutes}",
        where=spans_of(tuple(steps)),
    )
