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
song-spread, tone-survey, toole-olive-1988
"""

from dataclasses import dataclass

from features.measurements import Balance, Spectrum, Target
from rules.base import Finding, NotApplicable, limit, rule
from rules.readings import extreme_stretch, mean_between, missing, past, sure_of_tone, within
from rules.remedy import Remedy


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    spreads: float = limit(
        2.0, unit="spreads between songs", low=1.0, high=4.0, source="song-spread", says="a slope further below the target's is reported"
    )
    spreads_in_general: float = limit(
        2.5, unit="spreads between songs", low=1.0, high=4.0, source="tone-survey", says="without references, confidence is low up to here"
    )
    audible_db: float = limit(
        1.5, unit="dB", low=0.5, high=6.0, source="toole-olive-1988", says="unless lows or highs are off by this, nothing is said"
    )


@rule(
    topic="tone",
    title="The mix is darker than what it is compared with",
    message="Against {target_label}, the lows (100-400 Hz) stand {lows_db:+.1f} dB and the highs (2.5-10 kHz) {highs_db:+.1f} dB.",
    advice="Set a {shelf} shelf at {shelf_hz:.0f} Hz to {gain_db:+.1f} dB; stop when an equally loud reference no longer sounds brighter.",
)
def check(balance: Balance, spectrum: Spectrum, target: Target, t: Limits) -> Finding | NotApplicable | None:
    """Compare the slope with the target's, in spreads between songs."""
    deviation = balance.tilt_deviation_db_per_octave
    lows_db = mean_between(balance.third_octave_hz, balance.deviation_db, 99.0, 405.0)
    highs_db = mean_between(balance.third_octave_hz, balance.deviation_db, 2450.0, 10100.0)
    if deviation is None or lows_db is None or highs_db is None:
        return missing(balance, "tilt_deviation_db_per_octave")
    spreads = -deviation / target.tilt_spread_db_per_octave
    if spreads <= t.spreads or max(lows_db, -highs_db) < t.audible_db:
        return None
    lows_lead = lows_db > -highs_db
    gain_db = -within(lows_db / 2.0, 1.0, 3.0) if lows_lead else within(-highs_db / 2.0, 1.0, 3.0)
    shelf_hz = 250.0 if lows_lead else 3000.0
    confidence, sure_because = sure_of_tone(target, clear=spreads >= t.spreads + 1.0)
    if target.songs == 0 and spreads <= t.spreads_in_general:
        confidence = "low"
    return Finding(
        excess=past(spreads, t.spreads, 0.5),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"target_label": target.label, "lows_db": lows_db, "highs_db": highs_db, "shelf": "low" if lows_lead else "high",
                 "shelf_hz": shelf_hz, "gain_db": gain_db},
        cause="excess" if lows_lead else "lack",
        where=extreme_stretch(spectrum.tilt, 10.0, highest=False),
        band_hz=(60.0, 400.0) if lows_lead else (2500.0, 12000.0),
        remedy=Remedy(kind="low_shelf" if lows_lead else "high_shelf", frequency_hz=shelf_hz, gain_db=gain_db, q=0.5),
    )  # fmt: skip
