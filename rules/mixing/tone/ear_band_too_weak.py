"""The ear's most sensitive band is too weak.

## What it means
The region from 2 to 5 kHz makes up an unusually small share of the loudness, and it also lies below the songs this one is compared with.

## Why it matters
Words, attacks and detail live there; without them a mix seems distant and has to be turned up to be followed.

## What to do
Raise the track that should lead, or give it a wide bell, before lifting the whole mix. Stop when the words can be followed at a low
volume.

## Check by ear
Turn the song down until you can hardly hear it: what you can still follow should be what matters most in it.

## Leave it alone when
The song is meant to be soft and distant, or is carried by low instruments.

## Sources
buecklein-1981, iso-226, tone-survey
"""

from dataclasses import dataclass

from features.records.balance import Balance, Target
from features.records.ear import Ear
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.bands import mean_between
from rules.shared.excess import missing, past, within
from rules.shared.spans import extreme_stretch
from rules.shared.sureness import sure_of_tone, usual_range


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    share: float = limit(0.13, unit="share of the loudness", low=0.02, high=0.3, source="tone-survey", says="a smaller share is reported")
    below_target_db: float = limit(
        2.5, unit="dB", low=0.5, high=8.0, source="buecklein-1981", says="unless the region is this far below the target, nothing is said"
    )


@rule(
    topic="tone",
    title="Too little presence (2-5 kHz)",
    message="2-5 kHz makes up only {share:.0%} of the perceived loudness. It is {below_db:.1f} dB below {target_label}.",
    advice="Boost {lift_db:.1f} dB at 3.2 kHz with a bell, Q 0.9.",
    stop="when you can follow words and attacks at low volume",
)
def check(ear: Ear, balance: Balance, target: Target, limits: Limits) -> Finding | NotApplicable | None:
    """Ask for both.

    A small share of the loudness, and a level below the target's; five references or more say what is small.
    """
    deviation_db = mean_between(balance.third_octave_hz, balance.deviation_db, 1950.0, 5100.0)
    if ear.share_2k_5k is None:
        return missing(ear, "share_2k_5k")
    if deviation_db is None:
        return missing(balance, "deviation_db")
    usual = usual_range(target, "ear_share")
    least = limits.share if usual is None else usual[0]
    if ear.share_2k_5k >= least or -deviation_db < limits.below_target_db:
        return None
    confidence, sure_because = sure_of_tone(target, clear=-deviation_db >= 2.0 * limits.below_target_db)
    lift_db = within(-deviation_db / 2.0, 1.0, 3.0)
    return Finding(
        excess=past(-ear.share_2k_5k, -least, 0.04),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"share": ear.share_2k_5k, "below_db": -deviation_db, "target_label": target.label, "lift_db": lift_db},
        cause="lack",
        where=extreme_stretch(ear.share, 10.0, highest=False),
        band_hz=(2000.0, 5000.0),
        remedy=Remedy(kind="bell", frequency_hz=3200.0, gain_db=lift_db, q=0.9),
    )
