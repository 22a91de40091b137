"""The master has clipped tops that the mix lacks.

## What it means
Runs of equal samples stand at the extremes of the master: something after the mix cut the wave off flat.

## Why it matters
A few clipped hits are not audible; many are heard as crackle, and every converter and encoder after it makes them worse.

## What to do
Let a limiter hold the peaks instead, or clip less, until the runs are gone or rare. Stop when the loudest hits stay clear on headphones.

## Check by ear
Listen to the loudest hits on headphones, mix and master at matched loudness.

## Leave it alone when
A clipper is used on purpose, and you cannot hear it.

## Sources
judgement
"""

from dataclasses import dataclass

from features.records.file import Health
from features.records.mastering import Mastered
from rules.base import Finding, limit, rule
from rules.shared.excess import past
from rules.shared.spans import spans_of
from rules.shared.words import counted


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    per_minute: float = limit(
        10.0, unit="runs per minute", low=0.0, high=1000.0, source="judgement", says="more clipped runs than this are reported"
    )


@rule(
    topic="distortion",
    title="Clipped in mastering",
    message="The master has {runs} that the mix does not have. The longest lasts {longest:.0f} samples.",
    advice="Let a limiter catch these peaks, or drive the clipper less.",
    stop="when the clipping is gone, or you cannot tell it from the mix",
)
def check(mastered: Mastered, health: Health, limits: Limits) -> Finding | None:
    """Count the clipped runs that mastering added."""
    rate = mastered.clipped_runs_added / max(mastered.shared_s / 60.0, 0.05)
    if rate <= limits.per_minute:
        return None
    return Finding(
        excess=past(rate, limits.per_minute, max(limits.per_minute, 1.0)),
        confidence="high",
        sure_because="clipped runs were counted in both files",
        numbers={"runs": counted(mastered.clipped_runs_added, "clipped run"), "longest": float(health.clipped_longest)},
        cause="clipping",
        where=spans_of(health.clipped),
    )
