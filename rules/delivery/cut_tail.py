"""The end is cut.

## What it means
The file stops before the last sound has died away.

## Why it matters
Reverb and ringing break off, which everybody hears, and a fade in mastering can only hide it.

## What to do
Let the bounce run until all tails are silent, a few seconds more than seems needed. Mastering will trim it.

## Check by ear
Play the last two seconds with the volume up: does the tail break off?

## Leave it alone when
The song is meant to stop dead, or the file is an excerpt or a loop.

## Sources
delivery-practice, tail-trial
"""

from dataclasses import dataclass

from features.records.base import Span
from features.records.file import File, Health
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    level_dbfs: float = limit(-55.0, unit="dBFS", low=-80.0, high=-10.0, source="tail-trial", says="a louder end is taken for a cut")


@rule(
    topic="delivery",
    title="Ending is cut off",
    message="The sound has not died away when the file ends. Its last 50 ms are at {level_dbfs:.0f} dBFS.",
    advice="Let the bounce run on until all tails are silent.",
    stop="when the last second of the file is silent",
    shared="end",
)
def check(health: Health, file: File, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the level at the very end with the limit.

    A constant offset is not counted in it.
    """
    if health.silent:
        return NotApplicable("the file is silent")
    if health.tail_cut_dbfs is None or health.tail_cut_dbfs <= limits.level_dbfs:
        return None
    return Finding(
        excess=max(0.25, past(health.tail_cut_dbfs, limits.level_dbfs, 24.0)),
        confidence="medium",
        sure_because="the last samples still hold sound; an excerpt or a loop looks the same",
        numbers={"level_dbfs": health.tail_cut_dbfs},
        cause="file",
        where=(Span(max(file.duration_s - 2.0, 0.0), max(file.duration_s, 0.001)),),
    )
