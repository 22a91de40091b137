"""The bass hides the kick.

## What it means
Below 150 Hz, where the kick has its weight, little of it comes through while the bass plays.

## Why it matters
The kick then only clicks: its weight is there but not heard, and raising it costs headroom without making it clearer.

## What to do
Let the bass make room while the kick sounds: a dip at the kick's place, triggered by the kick. Or lower that place in the bass for good,
if the bass does not live from it, or lower the bass. Stop when kick and bass can both be followed; a deeper dip is heard as pumping.

## Check by ear
Loop four bars softly and tap along with the kick, first with the bass muted, then with it: do you lose the kick?

## Leave it alone when
Kick and bass are one sound by design, or the kick is meant to be only a click on top of the bass.

## Sources
hafezi-reiss-2015, judgement, low-end-practice, masking-of-elements
"""

from dataclasses import dataclass
from math import sqrt

from features.records.elements import Element, Elements, KickAndBass
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called, fader, inaudible, known, titled
from rules.shared.excess import missing, past, within
from rules.shared.level_signs import Limits as LevelLimits
from rules.shared.level_signs import moved
from rules.shared.spans import MOST_SPANS
from rules.shared.words import hertz

LOWS_HZ = (30.0, 150.0)
USUAL_HZ = 60.0
NEAR_OCTAVE = sqrt(2.0)
ESSENTIAL_DB = 6.0  # bands this near to the bass's strongest carry it
DIP_Q = 1.4
ATTACK_MS, RELEASE_MS = 5.0, 120.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    heard_share: float = limit(
        0.4, unit="share heard", low=0.1, high=0.9, source="judgement", says="a kick of whose lows less is heard is reported"
    )
    fewest_hits: float = limit(8.0, unit="kicks", low=2.0, high=100.0, source="judgement", says="with fewer, the rule does not judge")
    dip_db: float = limit(4.0, unit="dB", low=1.0, high=12.0, source="low-end-practice", says="how deep the bass dips under the kick")


def strongest_hz(kick: Element | None) -> float:
    """Return where the kick is strongest in the lows."""
    if kick is None:
        return USUAL_HZ
    bands = zip(kick.level.third_octave_db, kick.level.third_octave_hz, strict=True)
    return max(((db, hz) for db, hz in bands if LOWS_HZ[0] <= hz <= LOWS_HZ[1]), default=(0.0, USUAL_HZ))[1]


def lives_there(kick: Element | None, bass: Element | None, frequency_hz: float) -> bool:
    """Tell whether the bass lives from the kick's place.

    What was measured for the pair counts first.
    """
    if bass is None:
        return True
    if kick is not None:
        for cover in kick.masking.covered_by:
            if cover.by == bass.name and cover.band_hz[0] <= frequency_hz <= cover.band_hz[1]:
                return cover.essential
    levels = bass.level.third_octave_db
    near = [db for db, hz in zip(levels, bass.level.third_octave_hz, strict=True) if abs(hz / frequency_hz - 1.0) < 0.1]
    return not near or max(near) > max(levels) - ESSENTIAL_DB


@rule(
    topic="low-end",
    title="Bass masks the kick",
    message="Below 150 Hz, {heard:.0%} of {kick} is audible over {bass}, at {hits:.0f} kicks. It is strongest around {place}.",
    advice="Sidechain {bass} to dip about {dip_db:.0f} dB around {place} whenever {kick} sounds.",
    stop="when you can follow both",
)
def check(elements: Elements, limits: Limits) -> Finding | NotApplicable | None:
    """Report a kick that the bass masks below 150 Hz.

    One that is inaudible, or a fader that lies off, is another rule's.
    """
    pair = elements.kick_and_bass
    if pair is None:
        return NotApplicable("there is no kick with a bass beside it")
    if pair.hits < limits.fewest_hits:
        return NotApplicable(f"the bass plays under only {pair.hits} kicks")
    if pair.kick_audible_share is None:
        return missing(elements, "kick_and_bass")
    kick, bass = elements.named(pair.kick), elements.named(pair.bass)
    if pair.kick_audible_share >= limits.heard_share or (kick is not None and inaudible(kick)):
        return None
    if any(element is not None and moved(element, elements, LevelLimits()) for element in (kick, bass)):
        return None
    return _finding(pair, pair.kick_audible_share, kick, bass, limits)


def _finding(pair: KickAndBass, audible_share: float, kick: Element | None, bass: Element | None, limits: Limits) -> Finding:
    place_hz = round(strongest_hz(kick), 1)
    cut_db = within(limits.dip_db - 1.0, 1.0, 6.0)
    bell = Remedy(kind="bell", part=pair.bass, frequency_hz=place_hz, gain_db=-cut_db, q=DIP_Q)
    return Finding(
        excess=past(-audible_share, -limits.heard_share, 0.15),
        confidence="medium",
        sure_because="kick and bass were measured apart; what is audible of the kick is estimated from masking",
        numbers={"kick": called(pair.kick), "bass": called(pair.bass), "heard": audible_share, "hits": pair.hits, "place": hertz(place_hz),
                 "dip_db": limits.dip_db},
        cause="buried",
        where=pair.where[:MOST_SPANS],
        band_hz=(place_hz / NEAR_OCTAVE, place_hz * NEAR_OCTAVE),
        remedy=Remedy(kind="dynamic_bell", part=pair.bass, key=pair.kick, frequency_hz=place_hz, gain_db=-limits.dip_db, q=DIP_Q,
                      attack_ms=ATTACK_MS, release_ms=RELEASE_MS),
        title=f"{titled(pair.bass)} masks {titled(pair.kick)}",
        stem=pair.kick,
        others=known(fader(pair.bass, -2.0), None if lives_there(kick, bass, place_hz) else bell),
    )  # fmt: skip
