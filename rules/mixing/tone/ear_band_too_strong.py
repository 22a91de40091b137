"""The ear's most sensitive band is too strong.

## What it means
The region from 2 to 5 kHz makes up an unusually large share of the loudness, and it also stands above the songs this one is compared
with.

## Why it matters
The ear is most sensitive there: the mix sounds loud and clear at first, then hard, and it tires the listener at high levels.

## What to do
Look for the tracks that live there: voice, distorted guitar, snare, bright synthesiser. Lower the loudest by a little, or give it a wide
bell. Stop when you can turn the song up without wincing while the words stay clear.

## Check by ear
Play the chorus louder than usual for ten seconds: if you want to turn it down while a reference at the same loudness is fine, it is too
much.

## Leave it alone when
The song is meant to be aggressive and its listeners expect that.

## Sources
iso-226, planted-faults, tone-survey, toole-olive-1988
"""

from dataclasses import dataclass

from features.records.balance import Balance, Target
from features.records.ear import Ear
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.bands import mean_between
from rules.shared.bells import bell_cut_db
from rules.shared.excess import missing, past
from rules.shared.spans import extreme_stretch
from rules.shared.sureness import sure_of_tone, usual_range

FREQUENCY_HZ = 3200.0
Q = 0.9


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    share: float = limit(0.33, unit="share of the loudness", low=0.2, high=0.6, source="tone-survey", says="a larger share is reported")
    above_target_db: float = limit(
        1.5, unit="dB", low=0.5, high=6.0, source="toole-olive-1988", says="unless the region is this far above the target, nothing is said"
    )


@rule(
    topic="tone",
    title="Too much presence (2-5 kHz)",
    message="2-5 kHz makes up {share:.0%} of the perceived loudness. It is {above_db:.1f} dB above {target_label}.",
    advice="Cut {cut_db:.1f} dB at 3.2 kHz with a bell, Q 0.9.",
    stop="when it no longer hurts turned up and words stay clear",
    shared="power",
)
def check(ear: Ear, balance: Balance, target: Target, limits: Limits) -> Finding | NotApplicable | None:
    """Ask for both.

    A large share of the loudness, and a level above the target's; five references or more say what is large.
    """
    above_db = mean_between(balance.third_octave_hz, balance.deviation_db, 1950.0, 5100.0)
    if ear.share_2k_5k is None:
        return missing(ear, "share_2k_5k")
    if above_db is None:
        return missing(balance, "deviation_db")
    usual = usual_range(target, "ear_share")
    most = limits.share if usual is None else usual[1]
    if ear.share_2k_5k <= most or above_db < limits.above_target_db:
        return None
    confidence, sure_because = sure_of_tone(target, clear=above_db >= 2.0 * limits.above_target_db)
    cut_db = bell_cut_db(balance, target, FREQUENCY_HZ, Q, above_db)
    return Finding(
        excess=past(ear.share_2k_5k, most, 0.03),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"share": ear.share_2k_5k, "above_db": above_db, "target_label": target.label, "cut_db": cut_db},
        cause="excess",
        where=extreme_stretch(ear.share, 10.0, highest=True),
        band_hz=(2000.0, 5000.0),
        remedy=Remedy(kind="bell", frequency_hz=FREQUENCY_HZ, gain_db=-cut_db, q=Q),
        exact=True,
    )
