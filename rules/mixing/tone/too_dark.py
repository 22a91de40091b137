"""The whole spectrum leans towards the lows.

## What it means
From the lows to the highs, the level falls faster than it does in the songs this one is compared with.

## Why it matters
Voices, cymbals and attacks lose their edge, and beside other songs the mix plays as if behind a curtain.

## What to do
Look which end is off. If the lows stand too high, lower them with a wide low shelf; if the highs are missing, raise them with a wide high
shelf. Do it on the tracks that carry that end, or in small steps on the mix bus. Stop as soon as the balance matches; a shelf that
overshoots tires the ear.

## Check by ear
Turn a reference song down to the same loudness and switch between the two every few seconds, listening only to cymbals and consonants.

## Leave it alone when
The song is meant to be dark, or nothing in its arrangement is bright.

## Sources
song-spread, tone-detection, tone-survey, toole-olive-1988
"""

from features.records.balance import Balance, Target
from features.records.spectrum import Spectrum
from rules.base import Finding, NotApplicable, rule
from rules.shared.slope import MESSAGE, Limits, leaning

__all__ = ["Limits", "check"]


@rule(
    topic="tone",
    title="Mix too dark",
    message=MESSAGE,
    advice="Set a {shelf} shelf at {shelf_hz:.0f} Hz to {gain_db:+.1f} dB.",
    stop="when an equally loud reference no longer sounds brighter",
    shared="power",
)
def check(balance: Balance, spectrum: Spectrum, target: Target, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the slope with the target's, in spreads between songs."""
    return leaning(balance, spectrum, target, limits, bright=False)
