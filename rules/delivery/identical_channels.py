"""Both channels are the same.

## What it means
Left and right hold the same samples: the file is stereo in name only.

## Why it matters
Panning and stereo effects of the session did not reach the file.

## What to do
Look at the export settings (mono, or one channel chosen twice) and at the mix bus for a mono switch left on. Bounce again.

## Check by ear
On headphones everything sits in the middle of the head.

## Leave it alone when
The song is meant to be mono.

## Sources
delivery-practice, judgement
"""

from dataclasses import dataclass

from features.records.file import File, Health
from rules.base import Finding, NotApplicable, limit, rule


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    excess: float = limit(1.0, unit="tolerances", low=0.1, high=4.0, source="judgement", says="how heavily equal channels weigh")


@rule(
    topic="delivery",
    title="Mono in a stereo file",
    message="Left and right are identical, sample for sample: the file is mono.",
    advice="Look for a mono switch on the mix bus or in the export settings, and bounce again.",
    stop="when panned parts leave the middle",
)
def check(health: Health, file: File, limits: Limits) -> Finding | NotApplicable | None:
    """Report channels that are equal sample by sample."""
    if file.channels == 1:
        return NotApplicable("the file is mono")
    if health.silent:
        return NotApplicable("the file is silent")
    if not health.identical_channels:
        return None
    return Finding(excess=limits.excess, confidence="high", sure_because="every sample was compared", numbers={}, cause="file")
