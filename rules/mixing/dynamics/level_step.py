"""The level steps all at once.

## What it means
From one moment to the next the whole mix becomes softer or louder, every part of the spectrum by the same amount.

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


@rule(
    topic="dynamics",
    title="Sudden level change",
    message="At {minutes} the whole mix changes by {step_db:+.1f} dB, all bands alike, as if a fader had moved.",
    advice="Undo the automation, clip gain or region edge at {minutes}, by {back_db:+.1f} dB.",
    stop="when both sides are equally loud",
    shared="step",
)
def check(sections: Sections, limits: Limits) -> Finding | None:
    """Report the largest step that all bands share."""
    steps = sorted((moment for moment in sections.even_steps if abs(moment.value) > limits.step_db), key=lambda moment: -abs(moment.value))
    if not steps:
        return None
    worst = steps[0]
    minutes = clock(round((worst.start_s + worst.end_s) / 2.0))
    clear = abs(worst.value) >= limits.clear_db
    confidence: Confidence = "medium" if clear else "low"
    return Finding(
        excess=past(abs(worst.value), limits.step_db, 3.0),
        confidence=confidence,
        sure_because="all bands change alike, which an arrangement seldom does; only you know if it is meant",
        numbers={"minutes": minutes, "step_db": worst.value, "back_db": -worst.value},
        cause="unsteady",
        title=f"Sudden level change at {minutes}",
        where=spans_of(tuple(steps)),
    )
