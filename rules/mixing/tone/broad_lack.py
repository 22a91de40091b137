"""A broad hollow of the spectrum that songs seldom have.

## What it means
A region about an octave wide lies lower than in the songs this one is compared with, after overall level and slope are taken out.

## Why it matters
What lives in that region is heard less than in other songs. Hollows are heard less easily than rises, so this asks for stronger evidence.

## What to do
First see whether a cut on a track or bus made the hollow, and take that cut back by half. If none did, raise the track that plays there,
or lift the region on the mix bus with a wide bell. Stop before it is noticed as a rise.

## Check by ear
Loop a full passage and switch the lift on and off at the same loudness: the mix must become fuller without anything stepping out.

## Leave it alone when
No instrument of the song plays in that region, or the hollow leaves room for a voice on purpose.

## Sources
buecklein-1981, song-spread, tone-detection, toole-olive-1988
"""

from dataclasses import dataclass
from math import log2

from features.records.balance import Balance, Bell, Target
from rules.base import Finding, limit, rule
from rules.remedy import Remedy
from rules.shared.bells import bell_edges, least_strength, region_off_db, standing_of
from rules.shared.excess import past, within
from rules.shared.spans import MOST_SPANS
from rules.shared.sureness import sure_of_bell
from rules.shared.words import PART_WORDS, hertz, region


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    strength: float = limit(
        3.0, unit="spreads between songs", low=1.5, high=5.0, source="buecklein-1981", says="a hollow stronger than this is reported"
    )
    strength_everywhere: float = limit(
        2.5,
        unit="spreads between songs",
        low=1.0,
        high=5.0,
        source="song-spread",
        says="the same for a hollow that every part of the mix has",
    )
    strength_in_general: float = limit(
        4.0,
        unit="spreads between songs",
        low=1.0,
        high=5.0,
        source="tone-detection",
        says="without references, a hollow stronger than this is reported",
    )
    everywhere_in_general: float = limit(
        3.5, unit="spreads between songs", low=1.0, high=5.0, source="tone-detection", says="the same for a hollow that every part has"
    )
    clear_in_general: float = limit(
        4.5,
        unit="spreads between songs",
        low=1.0,
        high=6.0,
        source="tone-detection",
        says="without references, a hint up to here",
    )
    audible_db: float = limit(2.5, unit="dB", low=0.5, high=6.0, source="toole-olive-1988", says="a smaller hollow is not mentioned")


def beside_a_rise(hollow: Bell, balance: Balance) -> bool:
    """Return whether a rise as strong stands within an octave.

    Then the hollow is its slope, and the rise is what is heard.
    """
    return any(
        bell.gain_db > 0.0
        and abs(bell.strength) >= abs(hollow.strength) - 0.5
        and abs(log2(bell.frequency_hz / hollow.frequency_hz)) <= 1.0
        for bell in balance.bells
    )


@rule(
    topic="tone",
    title="One band is scooped",
    message="The {region} are scooped by about {lack_db:.1f} dB around {frequency}, against {target_label}. {standing}.",
    advice="Boost {lift_db:.1f} dB around {frequency}, Q {q:.1f}, on {part}.",
    stop="when it is filled, before you notice a boost",
)
def check(balance: Balance, target: Target, limits: Limits) -> Finding | None:
    """Report the strongest broad hollow.

    Held to a lower limit when every part of the mix has it.
    """
    hollows = [
        (past(abs(bell.strength), least_strength(bell, target, limits), 1.0), bell)
        for bell in balance.bells
        if bell.gain_db <= -limits.audible_db
        and region_off_db(balance, target, bell) <= -limits.audible_db
        and not beside_a_rise(bell, balance)
    ]
    excess, bell = max(hollows, key=lambda hollow: hollow[0], default=(0.0, None))
    if bell is None or excess <= 0.0:
        return None
    part = "mix" if bell.parts_agree else bell.part
    confidence, sure_because = sure_of_bell(target, bell, clear=excess >= 1.0, clear_in_general=limits.clear_in_general)
    lift_db = within(-bell.gain_db / 2.0, 1.0, 3.0)
    return Finding(
        excess=excess,
        confidence=confidence,
        sure_because=sure_because,
        numbers={"region": region(bell.frequency_hz), "lack_db": -bell.gain_db, "frequency": hertz(bell.frequency_hz), "lift_db": lift_db,
                 "target_label": target.label, "standing": standing_of(bell), "q": bell.q, "part": PART_WORDS[part]},
        cause="lack",
        where=bell.where[:MOST_SPANS],
        band_hz=bell_edges(bell.frequency_hz, bell.q),
        remedy=Remedy(kind="bell", part=part, frequency_hz=bell.frequency_hz, gain_db=lift_db, q=bell.q),
        title=f"Scooped around {hertz(bell.frequency_hz)}",
    )  # fmt: skip
