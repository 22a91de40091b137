"""The beginning is cut.

## What it means
The file starts in the middle of a sound.

## Why it matters
It clicks at the start, and the first attack is lost for good.

## What to do
Start the bounce a moment earlier, at least 100 ms before the first sound. Mastering will trim it.

## Check by ear
Play the first half second: does it start with a tick, or inside a note?

## Leave it alone when
The file is an excerpt.

## Sources
delivery-practice, judgement
"""

from dataclasses import dataclass

from features.records.base import Span
from features.records.file import Health
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    level_dbfs: float = limit(-40.0, unit="dBFS", low=-80.0, high=-10.0, source="judgement", says="a louder start is taken for a cut")


@rule(
    topic="delivery",
    title="Start is cut off",
    message="The file starts in the middle of a sound, at {level_dbfs:.0f} dBFS.",
    advice="Start the bounce at least 100 ms before the first sound.",
    stop="when the file begins in silence",
    shared="start",
)
def check(health: Health, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the level at the very start with the limit.

    A constant offset is not counted in it.
    """
    if health.silent:
        return NotApplicable("the file is silent")
    if health.head_cut_dbfs is None or health.head_cut_dbfs <= limits.level_dbfs:
        return None
    return Finding(
        excess=max(0.25, past(health.head_cut_dbfs, limits.level_dbfs, 24.0)),
        confidence="medium",
        sure_because="the first samples already hold sound; an excerpt looks the same",
        numbers={"level_dbfs": health.head_cut_dbfs},
        cause="file",
        where=(Span(0.0, 0.5),),
    )
