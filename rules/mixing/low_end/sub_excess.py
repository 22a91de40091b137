"""Too much below 60 Hz.

## What it means
The lowest octave and a half, 20 to 60 Hz, stands well above the songs this one is compared with.

## Why it matters
Small speakers hide it and large ones boom, and it uses up the room a limiter has without making the song louder.

## What to do
Find what brings it: usually the bass, the kick's tail, or rumble under tracks that need no lows. Lower that first. A low shelf on the mix
bus does the rest. Stop before the kick loses its weight on large speakers.

## Check by ear
On headphones that reach low, compare with a reference at the same loudness and listen to how long each low note stays after it was
struck.

## Leave it alone when
The song is made for large systems, and its style carries that much sub.

## Sources
low-end-survey, planted-faults, song-spread, tone-detection
"""

from dataclasses import dataclass
from math import log10

from features.records.balance import Balance, Target
from features.records.low_end import LowEnd
from features.records.spectrum import Spectrum
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.bands import mean_between
from rules.shared.bells import EDGE, MOST_CUT_DB, shelf_strength
from rules.shared.excess import missing, past, within
from rules.shared.spans import loudest_of
from rules.shared.sureness import sure_of_tone

SUB_HZ = (20.0, 60.0)
SHELF_HZ = 60.0
SHELF_REACH = 0.85  # of the shelf's gain, on average from 20 to 60 Hz
USUAL_SHARE = 0.7  # of the limit: where a cut for the sake of the share stops
LEAST_CUT_DB = 1.5
SURE_SPREADS = 0.5  # past the limit: one song in twenty of the references' kind has as much (docs/references.md)


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    spreads: float = limit(
        1.5, unit="spreads between songs", low=0.5, high=4.0, source="song-spread", says="more sub than this is reported"
    )
    share: float = limit(
        0.32,
        unit="share of energy",
        low=0.1,
        high=0.9,
        source="low-end-survey",
        says="sub that takes more of the energy is reported earlier",
    )
    share_in_general: float = limit(
        0.45, unit="share of energy", low=0.1, high=0.9, source="tone-detection", says="without references, the same for this share"
    )
    spreads_when_large: float = limit(
        0.7, unit="spreads between songs", low=0.0, high=4.0, source="low-end-survey", says="how much earlier: from here above the target"
    )
    strength: float = limit(
        2.0,
        unit="spreads between songs",
        low=0.5,
        high=5.0,
        source="tone-detection",
        says="lows that look raised by a shelf more strongly than this are reported",
    )
    clear: float = limit(
        3.0, unit="spreads between songs", low=0.5, high=6.0, source="tone-detection", says="and confidence is low up to here"
    )
    audible_db: float = limit(3.0, unit="dB", low=1.5, high=12.0, source="song-spread", says="unless it is this much, nothing is said")


def cut_to(spreads: float, share: float, spread_db: float, most_share: float) -> float:
    """Return the cut that makes the sub ordinary.

    Inside what songs do, in level and in its share of the energy.
    """
    by_level_db = (spreads - EDGE) * spread_db
    usual = USUAL_SHARE * most_share
    by_share_db = 10.0 * log10(share / (1.0 - share) * (1.0 - usual) / usual) if usual < share < 1.0 else 0.0
    return within(max(by_level_db, by_share_db) / SHELF_REACH, LEAST_CUT_DB, MOST_CUT_DB)


@rule(
    topic="low-end",
    title="Too much sub-bass",
    message="20-60 Hz is {above_db:.1f} dB above {target_label}. It holds {share:.0%} of the song's energy.",
    advice="Cut {cut_db:.1f} dB with a low shelf at {shelf_hz:.0f} Hz on the track that brings it.",
    stop="before the kick loses its weight",
    shared="power",
)
def check(balance: Balance, target: Target, spectrum: Spectrum, low_end: LowEnd, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the bands below 60 Hz with the target.

    Their mean, in spreads between songs.
    """
    above_db = mean_between(balance.third_octave_hz, balance.deviation_db, 19.0, 57.0)
    spread_db = mean_between(target.third_octave_hz, target.spread_db, 19.0, 57.0)
    if above_db is None or spread_db is None:
        return missing(balance, "deviation_db")
    if low_end.sub_share_db is None:
        return missing(low_end, "sub_share_db")
    spreads, share = above_db / spread_db, 10.0 ** (low_end.sub_share_db / 10.0)
    most_share = limits.share_in_general if target.songs == 0 else limits.share
    by_share = past(share, most_share, 0.1) if spreads > limits.spreads_when_large else 0.0
    strength = shelf_strength(balance, ("low_shelf",), raised=True)
    excess = max(past(spreads, limits.spreads, 0.5), by_share, past(strength, limits.strength, 0.5))
    if excess <= 0.0 or above_db < limits.audible_db:
        return None
    confidence, sure_because = sure_of_tone(target, clear=spreads >= limits.spreads + 1.0)
    if target.songs == 0 and strength <= limits.clear and spreads <= limits.spreads + 1.0:
        confidence, sure_because = "low", "without references, many good songs have as much"
    if target.songs > 0 and spreads <= limits.spreads + SURE_SPREADS:
        confidence, sure_because = "low", "it takes much of the energy, but songs like your references may well have as much"
    cut_db = cut_to(spreads, share, spread_db, most_share)
    return Finding(
        excess=excess,
        confidence=confidence,
        sure_because=sure_because,
        numbers={"above_db": above_db, "target_label": target.label, "share": share,
                 "shelf_hz": SHELF_HZ, "cut_db": cut_db},
        cause="excess",
        where=loudest_of(spectrum, 19.0, 57.0),
        band_hz=SUB_HZ,
        remedy=Remedy(kind="low_shelf", frequency_hz=SHELF_HZ, gain_db=-cut_db, q=0.7),
        exact=True,
    )  # fmt: skip
