"""A broad rise of the spectrum that songs seldom have.

## What it means
A region about an octave wide stands higher than in the songs this one is compared with, after overall level and slope are taken out.

## Why it matters
A region that stands out covers what lies beside it, and if it is low, it also uses up the room a limiter has.

## What to do
If the rise stands in everything alike, the listening room or the speakers are the usual cause: cut it on the mix bus. If it stands in one
part only, lower or cut the track that brings it. Halve the rise first and listen again; take back the cut where the sound turns hollow.

## Check by ear
Loop the loudest of the passages and switch the cut on and off at the same loudness: what was covered must step forward, and nothing may
turn thin.

## Leave it alone when
That region is the song's character, such as a lead instrument that is meant to fill it.

## Sources
song-spread, toole-olive-1988
"""

from dataclasses import dataclass

from features.measurements import Balance, Target
from rules.base import Finding, limit, rule
from rules.readings import MOST_SPANS, bell_edges, past, standing_of, sure_of_bell, within
from rules.remedy import Remedy
from rules.words import PARTS, hertz, region


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    strength: float = limit(
        2.5, unit="spreads between songs", low=1.5, high=5.0, source="song-spread", says="a rise stronger than this is reported"
    )
    strength_everywhere: float = limit(
        2.0,
        unit="spreads between songs",
        low=1.0,
        high=5.0,
        source="song-spread",
        says="the same for a rise that every part of the mix has",
    )
    audible_db: float = limit(1.5, unit="dB", low=0.5, high=6.0, source="toole-olive-1988", says="a smaller rise is not mentioned")


@rule(
    topic="tone",
    title="One region stands out",
    message="The {region} stand about {rise_db:.1f} dB too high around {frequency}, against {target_label}; {standing}.",
    advice="Cut {cut_db:.1f} dB around {frequency}, Q {q:.1f}, on {part}; stop when other sounds step forward, before it turns thin.",
)
def check(balance: Balance, target: Target, t: Limits) -> Finding | None:
    """Report the strongest broad rise, held to a lower limit when every part of the mix has it."""
    rises = [
        (past(bell.strength, t.strength_everywhere if bell.parts_agree else t.strength, 0.5), bell)
        for bell in balance.bells
        if bell.gain_db >= t.audible_db
    ]
    excess, bell = max(rises, key=lambda each: each[0], default=(0.0, None))
    if bell is None or excess <= 0.0:
        return None
    part = "mix" if bell.parts_agree else bell.part
    confidence, sure_because = sure_of_bell(target, bell, clear=excess >= 1.0)
    cut_db = within(bell.gain_db / 2.0, 1.0, 4.0)
    return Finding(
        excess=excess,
        confidence=confidence,
        sure_because=sure_because,
        numbers={"region": region(bell.frequency_hz), "rise_db": bell.gain_db, "frequency": hertz(bell.frequency_hz), "cut_db": cut_db,
                 "target_label": target.label, "standing": standing_of(bell), "q": bell.q, "part": PARTS[part]},
        cause="excess",
        where=bell.where[:MOST_SPANS],
        band_hz=bell_edges(bell.frequency_hz, bell.q),
        remedy=Remedy(kind="bell", part=part, frequency_hz=bell.frequency_hz, gain_db=-cut_db, q=bell.q),
        title=f"Too much around {hertz(bell.frequency_hz)}",
    )  # fmt: skip
