"""Mastering adds distortion that the music does not cover.

## What it means
What is left of the master once its equaliser and its slow changes of gain are accounted for is noise that follows the music. In its worst
moments it passes what the music masks.

## Why it matters
It is heard as roughness on loud hits and sustained bass, and as a veil over everything; lossy formats make it worse.

## What to do
Drive the limiter or clipper less, or let it release more slowly, until the roughness is gone at the named loudness. Stop there.

## Check by ear
Listen on headphones to the loudest bass note and the loudest hit, mix and master at matched loudness.

## Leave it alone when
Distortion is part of the sound, or the master uses an effect that the comparison cannot tell from it, such as a reverb or a moving filter.

## Sources
itu-bs1387, judgement
"""

from dataclasses import dataclass

from features.records.mastering import Mastered
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import past
from rules.shared.spans import spans_of


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    nmr_db: float = limit(
        1.5, unit="dB", low=-20.0, high=12.0, source="itu-bs1387", says="a higher ratio of noise to what the music masks is reported"
    )
    explained: float = limit(
        0.8, unit="share", low=0.0, high=1.0, source="judgement", says="below this, what is not explained may be an effect, not distortion"
    )


@rule(
    topic="distortion",
    title="Audible distortion from mastering",
    message=(
        "In the worst 5 % of the densest part, added distortion is {nmr_db:+.1f} dB against what the music masks. It is "
        "audible from {limit_db:+.1f} dB. Gain reduction passes {reduction_db:.1f} dB for 5 % of the time."
    ),
    advice="Drive the limiter or clipper about {less_db:.0f} dB less, or set a slower release.",
    stop="when the roughness is gone",
)
def check(mastered: Mastered, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the noise-to-mask ratio with its limit."""
    nmr = mastered.distortion_nmr_db
    if nmr is None or mastered.gain_reduction_p95_db is None:
        return NotApplicable("mix and master could not be compared")
    if nmr <= limits.nmr_db:
        return None
    sure = mastered.explained_share >= limits.explained
    return Finding(
        excess=past(nmr, limits.nmr_db, 3.0),
        confidence="medium" if sure else "low",
        sure_because=f"{mastered.explained_share:.0%} of the master is explained by a fixed EQ and a moving gain"
        + ("" if sure else ", so an added effect may read as distortion"),
        numbers={
            "nmr_db": nmr, "limit_db": limits.nmr_db, "reduction_db": mastered.gain_reduction_p95_db,
            "less_db": max((nmr - limits.nmr_db) / 3, 1.0),
        },
        cause="clipping",
        where=spans_of(mastered.hardest),
    )  # fmt: skip
