"""The sampling rate is lower than songs are delivered at.

## What it means
The file holds no sound above half its sampling rate.

## Why it matters
Everything above that frequency is missing for good, and raising the rate later brings nothing back.

## What to do
Bounce at the session's own rate, 44.1 kHz or higher. Do not convert the rate just in case.

## Check by ear
Compare with a finished song: the air of cymbals and voices is missing.

## Leave it alone when
The low rate is the sound, as in old sampler music.

## Sources
delivery-practice
"""

from dataclasses import dataclass

from features.records.file import File
from rules.base import Finding, limit, rule
from rules.shared.excess import past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    rate_hz: float = limit(44100.0, unit="Hz", low=8000.0, high=96000.0, source="delivery-practice", says="a lower rate is reported")


@rule(
    topic="delivery",
    title="Low sample rate",
    message="The sample rate is {rate_khz:g} kHz, so nothing above {top_khz:g} kHz is in the file.",
    advice="Bounce at the session's rate, 44.1 kHz or higher.",
    stop="there, since converting this file brings nothing back",
)
def check(file: File, limits: Limits) -> Finding | None:
    """Compare the rate with the limit."""
    if file.rate_hz >= limits.rate_hz:
        return None
    return Finding(
        excess=max(0.5, past(-file.rate_hz, -limits.rate_hz, 10000.0)),
        confidence="high",
        sure_because="the file's header states it",
        numbers={"rate_khz": file.rate_hz / 1000.0, "top_khz": file.rate_hz / 2000.0},
        cause="file",
    )
