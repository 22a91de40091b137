"""An element brings low end that is not its own.

## What it means
Far below the lowest band this element lives from, it still has energy, and enough of it to add to the low end of the mix: rumble, wind,
steps, plosives, or the bottom of a sample nobody listens to.

## Why it matters
It blurs kick and bass and takes the limiter's room, without anyone hearing where it comes from.

## What to do
Put a high-pass on this element at the frequency named; only there, for the element has nothing of its own below. Stop as soon as its tone
changes. High-passing everything by habit thins a mix out; this is for what was measured here.

## Check by ear
Play only what lies below the named frequency, with this element muted and not: is anything missing but a blur?

## Leave it alone when
The low end belongs to the sound, such as the body of a piano, or a drop that is meant to be felt.

## Sources
judgement, pestana-reiss-2014, power-sums
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, log10

from features.records.elements import Element, ElementLevel, Elements, Role
from rules.base import Confidence, Finding, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called, loudest_where, present, titled, worst_first
from rules.shared.excess import past
from rules.shared.level_signs import Limits as LevelLimits
from rules.shared.level_signs import moved
from rules.shared.words import hertz

OWN_THE_LOWS: frozenset[Role] = frozenset({"kick", "bass", "drums", "percussion", "effects"})
BODY_FROM_HZ = 100.0
BODY_DB = 12.0  # bands this near to the strongest one carry the element
HIGHEST_HZ = 100.0
MOST_SHARE = 0.9
VALLEY_DB = 3.0
FAR_BELOW_DB = -25.0  # a low end this far below everything is of no concern
ORDER = 2


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    adds_db: float = limit(
        0.7, unit="dB", low=0.2, high=6.0, source="judgement", says="an element that adds more to the low end than this is reported"
    )


@dataclass(frozen=True, slots=True)
class Rumble:
    """What an element has below its own lowest band."""

    own_hz: float
    below_hz: float
    adds_db: float
    apart: bool


def body(level: ElementLevel) -> tuple[float, float] | None:
    """Return the lowest band that carries the element.

    Frequency and level; None for silence.
    """
    upper = [(hz, db) for hz, db in _bands(level) if hz >= BODY_FROM_HZ]
    strongest_db = max((db for _, db in upper), default=0.0)
    return next(((hz, db) for hz, db in upper if db >= strongest_db - BODY_DB), None)


def _bands(level: ElementLevel) -> list[tuple[float, float]]:
    return list(zip(level.third_octave_hz, level.third_octave_db, strict=True))


def power_of(element: Element, below_hz: float, off_db: float = 0.0) -> float:
    """Return an element's power below a frequency.

    Over the whole song, with a fader that lies off set right.
    """
    total: float = sum(10.0 ** ((db - off_db) / 10.0) for hz, db in _bands(element.level) if hz <= below_hz)
    return element.level.plays_share * total


def rumble_of(element: Element, everyone: Mapping[str, tuple[Element, float]]) -> Rumble | None:
    """Return what the element adds far below its own band.

    None where it has none, or where the lows are its own.

    ``everyone`` has all elements by name, each with how far its fader lies off. What it adds is the lesser of as it is and with these
    set right: the bottom of one that is too loud, or of all others where the kick is too soft, is no rumble.
    """
    own = body(element.level)
    if own is None:
        return None
    low_hz, own_db = own
    below_hz = min(low_hz / 2.0, HIGHEST_HZ)
    shares = [_share(element, [(element, off_db * then) for element, off_db in everyone.values()], below_hz) for then in (0.0, 1.0)]
    if None in shares:
        return None
    top_db, top_hz = max((db, hz) for hz, db in _bands(element.level) if hz <= below_hz)
    between_db = min((db for hz, db in _bands(element.level) if top_hz < hz < low_hz), default=top_db)
    apart = between_db <= min(top_db, own_db) - VALLEY_DB
    if top_db > own_db and not apart:
        return None
    share = min(*(part for part in shares if part is not None), MOST_SHARE)
    return Rumble(low_hz, below_hz, -10.0 * log10(1.0 - share), apart)


def _share(judged: Element, everyone: Sequence[tuple[Element, float]], below_hz: float) -> float | None:
    """Return its share of the power of all below a frequency; None where the low end is of no concern."""
    low, everything = (sum(power_of(element, hz, off_db) for element, off_db in everyone) for hz in (below_hz, inf))
    if low <= 0.0 or 10.0 * log10(low / everything) < FAR_BELOW_DB:
        return None
    return sum(power_of(element, below_hz, off_db) for element, off_db in everyone if element is judged) / low


@rule(
    topic="low-end",
    title="Rumble in one element",
    message="{name} plays from {own} up, yet it adds {adds_db:.1f} dB to the low end below {below}.",
    advice="High-pass {name} at {below}, and only {name}.",
    stop="as soon as its tone changes",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | None:
    """Report low end far below an element's own band.

    Of elements other than kick, bass and drums.
    """
    everyone = {element.name: (element, moved(element, elements, LevelLimits())) for element in present(elements)}
    rumbles = [(element, rumble_of(element, everyone)) for element, _ in everyone.values() if element.role not in OWN_THE_LOWS]
    return worst_first([_finding(element, rumble, limits) for element, rumble in rumbles if rumble is not None])


def _finding(element: Element, rumble: Rumble, limits: Limits) -> Finding:
    confidence, sure_because = _sureness(rumble)
    return Finding(
        excess=past(rumble.adds_db, limits.adds_db, 0.7),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"own": hertz(rumble.own_hz), "below": hertz(rumble.below_hz), "name": called(element.name), "adds_db": rumble.adds_db},
        cause="excess",
        where=loudest_where(element),
        band_hz=(20.0, rumble.below_hz),
        remedy=Remedy(kind="high_pass", part=element.name, frequency_hz=round(rumble.below_hz, 1), order=ORDER),
        title=f"{titled(element.name, 28)} rumbles below {hertz(rumble.below_hz)}",
        stem=element.name,
    )


def _sureness(rumble: Rumble) -> tuple[Confidence, str]:
    if rumble.apart:
        return "medium", "a gap parts it from the element's own range, so it is no part of its notes"
    return "low", "it joins the element's own range without a gap, so it may be the bottom of its notes"
