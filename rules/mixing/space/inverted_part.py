"""Something in the mix has an inverted channel.

## What it means
In some bands left and right are mirror images of one another for part of the time, while the rest of the mix is in order: one track there
has an inverted channel.

## Why it matters
That track vanishes in mono and has no place on speakers, however good the stereo mix sounds on headphones.

## What to do
Solo the tracks that live there and switch each to mono. Flip the polarity of one channel of the one that vanishes, or take back its
widener. Stop when it keeps its level in mono.

## Check by ear
Band-pass the region named on the mix bus at the time named, and switch to mono: something that is plain in stereo is gone.

## Leave it alone when
It is an effect that is meant to live at the sides only and may go in mono.

## Sources
judgement, stereo-definitions, mirrored-survey
"""

from dataclasses import dataclass

from features.records.stereo import Stereo
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past
from rules.shared.words import hertz

LOWEST_HZ, HIGHEST_HZ = 39.0, 13000.0
ALONE = 0.6
FOLLOWS = ("mixing/band_too_wide", "mixing/mono_loss", "mixing/low_end_too_wide")


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    share: float = limit(
        0.12, unit="share of a band's energy", low=0.01, high=0.9, source="mirrored-survey",
        says="two neighbouring bands of which more is mirrored are reported",
    )  # fmt: skip
    clear: float = limit(
        0.25, unit="share of a band's energy", low=0.02, high=1.0, source="mirrored-survey", says="from here on it is more than a hint"
    )
    energy_share: float = limit(
        0.003,
        unit="share of the energy",
        low=0.0001,
        high=0.1,
        source="judgement",
        says="bands with less of the song's energy are left out",
    )


def mirrored(stereo: Stereo, limits: Limits) -> list[tuple[float, int]]:
    """Return how much of each band is mirrored.

    With its place, and only what its neighbour bears out: of two neighbours the lesser share counts, of a band alone what it has beyond
    three fifths. A kick may live in one.
    """
    shares = [
        share if energy >= limits.energy_share and LOWEST_HZ <= hz <= HIGHEST_HZ else 0.0
        for hz, share, energy in zip(stereo.band_hz, stereo.band_mirrored_share, stereo.band_energy_share, strict=False)
    ]
    beside = [max(pair) for pair in zip([0.0, *shares], [*shares[1:], 0.0], strict=False)]
    return [(max(min(share, near), share - ALONE), place) for place, (share, near) in enumerate(zip(shares, beside, strict=True))]


@rule(
    topic="space",
    title="Inverted sound in the mix",
    message="Around {frequency}, one channel mirrors the other in {share:.0%} of the sound: a track there has an inverted channel.",
    advice="Switch the tracks around {frequency} to mono one by one. Flip one channel of the track that vanishes.",
    stop="when it keeps its level in mono",
)
def check(stereo: Stereo, limits: Limits) -> Finding | NotApplicable | None:
    """Report the bands of which most is mirrored."""
    if stereo.correlation is None:
        return missing(stereo, "correlation")
    if stereo.polarity_inverted:
        return NotApplicable("one channel has inverted polarity")
    share, place = max(mirrored(stereo, limits), default=(0.0, 0))
    if share <= limits.share:
        return None
    hz, where = stereo.band_hz[place], stereo.band_worst[place]
    confidence: Confidence = "medium" if share >= limits.clear else "low"
    return Finding(
        excess=max(past(share, limits.share, 0.15), 0.2),
        confidence=confidence,
        sure_because="wide sounds scatter and are hardly ever mirrored; an effect meant for the sides may be",
        numbers={"frequency": hertz(hz), "share": stereo.band_mirrored_share[place]},
        cause="polarity",
        where=() if where is None else (where,),
        band_hz=(hz / 2**0.5, hz * 2**0.5),
        remedy=Remedy(kind="none"),
        title=f"Inverted sound around {hertz(hz)}",
        explains=FOLLOWS,
    )
