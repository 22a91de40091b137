"""Little below 60 Hz.

## What it means
The lowest octave and a half, 20 to 60 Hz, lies well below the songs this one is compared with.

## Why it matters
On large speakers the song has less weight than its neighbours. On small ones nothing changes, so it is easily missed while mixing.

## What to do
See whether a high-pass filter on the bass or the kick is set too high, and lower it. If there is nothing down there to begin with, raise
the bass by a little or let its lowest notes sound longer. Stop when a reference at the same loudness no longer feels heavier.

## Check by ear
On headphones that reach low, compare the weight of the chorus with a reference at the same loudness.

## Leave it alone when
The arrangement has no low instrument, or the style is light by nature.

## Sources
buecklein-1981, song-spread, tone-detection
"""

from dataclasses import dataclass

from features.records.balance import Balance, Target
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.bands import mean_between
from rules.shared.bells import shelf_strength
from rules.shared.excess import missing, past, within
from rules.shared.sureness import sure_of_tone

SUB_HZ = (20.0, 60.0)
SHELF_HZ = 60.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    spreads: float = limit(
        2.0, unit="spreads between songs", low=0.5, high=4.0, source="buecklein-1981", says="less sub than this is reported"
    )
    spreads_in_general: float = limit(
        1.6, unit="spreads between songs", low=0.5, high=4.0, source="tone-detection", says="without references, the same"
    )
    strength: float = limit(
        2.5,
        unit="spreads between songs",
        low=0.5,
        high=8.0,
        source="tone-detection",
        says="lows that look cut by a high-pass or a shelf more strongly than this are reported",
    )
    clear: float = limit(
        4.5, unit="spreads between songs", low=0.5, high=8.0, source="tone-detection", says="and confidence is low up to here"
    )
    audible_db: float = limit(4.0, unit="dB", low=1.5, high=20.0, source="song-spread", says="unless it is this much, nothing is said")


@rule(
    topic="low-end",
    title="Little sub-bass",
    message="20-60 Hz is {below_db:.1f} dB below {target_label}.",
    advice="Lower the bass's high-pass, or boost its low shelf at {shelf_hz:.0f} Hz by {lift_db:.1f} dB.",
    stop="when references feel no heavier",
)
def check(balance: Balance, target: Target, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the bands of 30-60 Hz with the target.

    Their mean, in spreads between songs.
    """
    deviation_db = mean_between(balance.third_octave_hz, balance.deviation_db, 31.0, 57.0)
    spread_db = mean_between(target.third_octave_hz, target.spread_db, 31.0, 57.0)
    if deviation_db is None or spread_db is None:
        return missing(balance, "deviation_db")
    spreads = -deviation_db / spread_db
    strength = shelf_strength(balance, ("low_shelf", "high_pass"), raised=False)
    least = limits.spreads_in_general if target.songs == 0 else limits.spreads
    excess = max(past(spreads, least, 1.0), past(strength, limits.strength, 1.0))
    if excess <= 0.0 or -deviation_db < limits.audible_db:
        return None
    confidence, sure_because = sure_of_tone(target, clear=spreads >= limits.spreads + 1.0)
    if target.songs == 0 and strength <= limits.clear:
        confidence, sure_because = "low", "without references, many good songs have as little; your own would tell whether this one should"
    if target.songs > 0 and spreads <= limits.spreads and strength <= limits.clear:
        confidence, sure_because = "low", "it looks cut off below, but songs like your references may well have as little"
    lift_db = within(-deviation_db / 4.0, 1.5, 4.0)
    return Finding(
        excess=excess,
        confidence=confidence,
        sure_because=sure_because,
        numbers={"below_db": -deviation_db, "target_label": target.label, "shelf_hz": SHELF_HZ, "lift_db": lift_db},
        cause="lack",
        band_hz=SUB_HZ,
        remedy=Remedy(kind="low_shelf", frequency_hz=SHELF_HZ, gain_db=lift_db, q=0.7),
    )
