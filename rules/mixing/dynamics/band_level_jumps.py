"""One region jumps in level within a part.

## What it means
While the same part plays on, the hits of one region vary more from one to the next than in ordinary songs, and its level leaps or spreads
widely as well.

## Why it matters
An element that jumps is too loud in one bar and gone in the next; a compressor on the mix bus then moves everything because of it.

## What to do
Solo that region with a band-pass on the mix bus and find the track. Even it out there: clip gain or fader rides first, then a compressor
that works on its loud moments only. Stop when its words or notes keep their place.

## Check by ear
Loop the passage with a band-pass over that region: something steps forward and back although the arrangement does not change.

## Leave it alone when
The part is meant to surge, or a sound enters and leaves there by arrangement. From the sum of all tracks the two look alike, and an
element that jumps among others is often missed; a listen to each track alone tells more.

## Sources
level-jump-survey
"""

from dataclasses import dataclass

from features.records.base import Moment
from features.records.crest import Crest
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import past, within
from rules.shared.spans import spans_of
from rules.shared.words import hertz, region, sentences

LOWEST_HZ = 150.0  # below, the rule for an unsteady low end speaks
HIGHEST_HZ = 9000.0
RATIO = 2.5


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    jump_db: float = limit(
        18.0,
        unit="dB",
        low=4.0,
        high=30.0,
        source="level-jump-survey",
        says="with hits that vary, a larger jump from 3 s to 3 s is reported",
    )
    spread_db: float = limit(
        24.0, unit="dB", low=6.0, high=40.0, source="level-jump-survey", says="with hits that vary, a wider spread of the level is reported"
    )
    variation_db: float = limit(
        7.0, unit="dB", low=2.0, high=20.0, source="level-jump-survey", says="hits that vary by less are not reported"
    )


@dataclass(frozen=True, slots=True)
class _Band:
    centre_hz: float
    signs: tuple[str, ...]
    excess: float
    size_db: float
    jump: Moment | None


def bands(crest: Crest, limits: Limits) -> list[_Band]:
    """Return the octaves that jump in level.

    Those whose hits vary, and whose level jumps or spreads as well: either alone is mostly the arrangement.
    """
    octaves = []
    for place, centre_hz in enumerate(crest.octave_hz):
        if not LOWEST_HZ < centre_hz < HIGHEST_HZ:
            continue
        jump, spread, variation = crest.widest_jump[place], crest.spread_db[place], crest.hit_variation_db[place]
        readings = (
            (None if jump is None else jump.value, limits.jump_db, "the level jumps by {:.0f} dB from one moment to the next"),
            (spread, limits.spread_db, "the level ranges over {:.0f} dB"),
            (variation, limits.variation_db, "hits vary by {:.0f} dB"),
        )
        seen = [(past(value, most, 3.0), words.format(value)) for value, most, words in readings if value is not None and value > most]
        if len(seen) > 1 and variation is not None and variation > limits.variation_db:
            size_db = max(value for value, _, _ in readings[:2] if value is not None)
            octaves.append(_Band(centre_hz, tuple(words for _, words in seen), max(excess for excess, _ in seen), size_db, jump))
    return octaves


@rule(
    topic="dynamics",
    title="Uneven level in one band",
    message="The {region} around {frequency} are uneven. {what}.",
    advice="Ride the strongest track there by up to {ride_db:.0f} dB, or compress it {ratio:.1f}:1.",
    stop="when it holds its place",
    shared="movement",
)
def check(crest: Crest, limits: Limits) -> Finding | NotApplicable | None:
    """Report the octave that is most uneven."""
    if all(value is None for value in crest.spread_db):
        return NotApplicable("no part is long enough to tell")
    worst = max(bands(crest, limits), key=lambda band: band.excess, default=None)
    if worst is None:
        return None
    return Finding(
        excess=worst.excess,
        confidence="low",
        sure_because="hits and level both vary, but an arrangement that changes within a part looks the same",
        numbers={
            "frequency": hertz(worst.centre_hz),
            "region": region(worst.centre_hz),
            "what": sentences(worst.signs),
            "ratio": RATIO,
            "ride_db": within(worst.size_db / 2.0, 2.0, 6.0),
        },
        cause="unsteady",
        where=spans_of((worst.jump,)) if worst.jump is not None else (),
        title=f"Uneven level around {hertz(worst.centre_hz)}",
        band_hz=(worst.centre_hz / 2**0.5, worst.centre_hz * 2**0.5),
    )
