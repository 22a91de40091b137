"""Mastering makes the whole song dip and swell.

## What it means
The gain of compressor and limiter moves audibly, at the pace of the beat.

## Why it matters
The voice and everything that sustains ducks under each kick. It can be a sound that is wanted; as an accident it tires.

## What to do
Drive less, take down in the mix what triggers it (mostly kick or bass), or set another release. Stop when sustained sounds hold still
under the kick.

## Check by ear
Listen to a long chord or the tail of the voice under the kick, mix and master at matched loudness.

## Leave it alone when
The song is meant to breathe with the kick.

## Sources
judgement, loudness-practice
"""

from dataclasses import dataclass

from features.records.mastering import Mastered
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import past
from rules.shared.spans import spans_of


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    pumping_db: float = limit(
        1.0, unit="dB", low=0.3, high=4.0, source="judgement", says="a gain that moves by more (RMS, 1-20 Hz) is reported"
    )


@rule(
    topic="dynamics",
    title="Pumping from mastering",
    message=(
        "In the densest part the gain moves by {pumping_db:.1f} dB RMS in time with the beat. It is audible from about {limit_db:.1f} dB."
    ),
    advice="Drive the limiter about {less_db:.0f} dB less, or try another release.",
    stop="when sustained sounds no longer duck under the kick",
)
def check(mastered: Mastered, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the gain's movement with its limit."""
    pumping = mastered.pumping_db
    if pumping is None:
        return NotApplicable("mix and master could not be compared")
    if pumping <= limits.pumping_db:
        return None
    return Finding(
        excess=past(pumping, limits.pumping_db, 0.5),
        confidence="medium",
        sure_because="the gain was worked out from mix and master; only you know if its movement is meant",
        numbers={"pumping_db": pumping, "limit_db": limits.pumping_db, "less_db": max(3 * (pumping - limits.pumping_db), 1.0)},
        cause="density",
        where=spans_of(mastered.hardest),
    )
