"""Placing a move where the fault lies: what would be done to the whole mix is done to the element that carries it, where one does."""

from dataclasses import replace
from math import inf, log10

from advisor.judge import Card
from features.element_records import Element, Elements
from rules.readings import bell_edges
from rules.remedy import Remedy

CARRIES = 0.5  # of the band's power: with less, no single element is to blame
DEEPEST_DB = -12.0
TONE = ("bell", "low_shelf", "high_shelf")


def placed(card: Card, elements: Elements) -> Card:
    """Return the card with the move on an element or group tried first, and the one on the mix after it."""
    remedy = card.finding.remedy
    better = None if remedy is None else better_place(remedy, elements)
    if remedy is None or better is None:
        return card
    return replace(card, finding=replace(card.finding, remedy=better, others=(*card.finding.others, remedy)))


def better_place(remedy: Remedy, elements: Elements) -> Remedy | None:
    """Return the same move on the element or group it is meant for; None where it belongs to the mix."""
    if remedy.kind == "gain" and remedy.part == "percussive" and any(one.name == "drums" for one in elements.groups):
        return replace(remedy, part="drums")
    if remedy.kind not in TONE or remedy.part not in ("mix", "sustained") or (remedy.gain_db or 0.0) >= 0.0:
        return None
    there = [one for one in elements.elements if one.copy_of is None and not (remedy.part == "sustained" and one.group == "drums")]
    powers = {one.name: _power(one, *_band(remedy)) for one in there}
    total = sum(powers.values())
    if total <= 0.0:
        return None
    name, power = max(powers.items(), key=lambda each: each[1])
    if power < CARRIES * total:
        return None
    return replace(remedy, part=name, gain_db=round(_deeper_db(remedy.gain_db or 0.0, power / total), 1))


def _band(remedy: Remedy) -> tuple[float, float]:
    hz = remedy.frequency_hz or 1000.0
    if remedy.kind == "bell":
        return bell_edges(hz, remedy.q or 1.0)
    return (0.0, hz) if remedy.kind == "low_shelf" else (hz, inf)


def _power(one: Element, low_hz: float, high_hz: float) -> float:
    """Return the element's mean power in a band over the whole song."""
    level = one.level
    inside = zip(level.third_octave_hz, level.third_octave_db, strict=True)
    return float(level.plays_share * sum(10.0 ** (db / 10.0) for hz, db in inside if low_hz <= hz <= high_hz))


def _deeper_db(gain_db: float, share: float) -> float:
    """Return the gain on an element of this share that changes the sum's power as ``gain_db`` on the sum would: never below -12 dB.

    >>> round(_deeper_db(-3.0, 1.0), 1), round(_deeper_db(-3.0, 0.6), 1), _deeper_db(-6.0, 0.5)
    (-3.0, -7.7, -12.0)
    """
    left = (10.0 ** (gain_db / 10.0) - (1.0 - share)) / share
    return max(10.0 * log10(left), DEEPEST_DB) if left > 0.0 else DEEPEST_DB
