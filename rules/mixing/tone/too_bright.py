"""The whole spectrum leans towards the highs.

## What it means
From the lows to the highs, the level falls less than it does in the songs this one is compared with.

## Why it matters
The mix sounds thin or sharp and tires the ear, and a limiter in mastering makes it brighter still.

## What to do
Look which end is off. If the highs stand too high, lower them with a wide high shelf; if the lows are missing, raise them with a wide low
shelf. Do it on the tracks that carry that end, or in small steps on the mix bus. Stop as soon as the balance matches.

## Check by ear
Turn a reference song down to the same loudness and switch between the two every few seconds: the brighter one is the one you want to turn
down.

## Leave it alone when
The song is meant to be bright, or nothing in its arrangement plays low.

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
    title="Mix too bright",
    message=MESSAGE,
    advice="Set a {shelf} shelf at {shelf_hz:.0f} Hz to {gain_db:+.1f} dB.",
    stop="when an equally loud reference no longer sounds fuller",
    shared="power",
)
def check(balance: Balance, spectrum: Spectrum, target: Target, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the slope with the target's, in spreads between songs."""
    return leaning(balance, spectrum, target, limits, bright=True)
