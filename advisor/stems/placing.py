"""Placing a move where the fault lies.

What would be done to the whole mix is done to the element that carries it, where one does.

A shelf is placed by what its finding speaks of, not by all it reaches: lows that stand too high from 100 Hz on are not the kick's 50 Hz.
"""

from collections.abc import Callable
from dataclasses import replace
from math import log10
from statistics import median_low

from advisor.judging.judge import Card
from advisor.remedies.discovery import kind_of
from features.records.elements import Element, Elements, Role
from rules.remedy import Remedy

CARRIES = 0.5  # of the band's power: with less, no single element is to blame
DEEPEST_DB = -12.0
LEANS = {"left": -1.0, "right": 1.0}  # the sign of `pan_db` where that channel is louder
CENTRAL: frozenset[Role] = frozenset({"kick", "bass", "snare", "vocal"})  # stand in the middle as a rule: common practice
FEWEST = 2  # of these; with fewer all elements are asked
LEAST_LEAN_DB = 1.0
AS_THEY_ARE = frozenset({"side_gain", "mono_below", "high_pass"})  # kinds that do to an element what they would do to the mix
ABOVE_ORDINARY_DB = 0.5  # the ceiling over an element's ordinary peaks

OrdinaryPeaks = Callable[[str], float | None]


def placed(card: Card, elements: Elements, ordinary_peak_dbfs: OrdinaryPeaks = lambda _name: None) -> Card:
    """Return the card with its move placed on an element.

    The move on the mix is tried after it.

    A lean that one element brings in is that element's alone: turning a side of the mix down pushes all the others off the centre. Where
    those that stand in the middle as a rule lean alike, the side is turned down by as much as they lean.
    ``ordinary_peak_dbfs`` gives the level that an element's usual peaks reach. What the stems leave of the mix is mended on the mix.
    """
    remedy = card.finding.remedy
    if remedy is None:
        return card
    attribution = card.attribution
    if attribution is not None and attribution.carrier == "left over":
        return card
    carrier = None if attribution is None else attribution.element
    if kind_of(remedy).is_fader and remedy.part in LEANS:
        return _with(card, _all_lean(remedy.part, elements) or _turned_back(carrier, elements))
    better = better_place(remedy, elements, card.finding.band_hz, carrier)
    if better is None and carrier is not None:
        better = _moved(remedy, carrier, ordinary_peak_dbfs)
    return _with(card, better, remedy)


def _with(card: Card, remedy: Remedy | None, *others: Remedy) -> Card:
    return card if remedy is None else replace(card, finding=replace(card.finding, remedy=remedy, others=(*card.finding.others, *others)))


def _moved(remedy: Remedy, name: str, ordinary_peak_dbfs: OrdinaryPeaks) -> Remedy | None:
    """Return a move that is no cut of tone on the element that carries the fault; None for what only the mix can take."""
    if remedy.kind in AS_THEY_ARE:
        return replace(remedy, part=name)
    peak_dbfs = ordinary_peak_dbfs(name) if remedy.ceiling_dbfs is not None else None
    return None if peak_dbfs is None else replace(remedy, part=name, ceiling_dbfs=round(peak_dbfs + ABOVE_ORDINARY_DB, 1))


def better_place(
    remedy: Remedy, elements: Elements, about_hz: tuple[float, float] | None = None, carrier: str | None = None
) -> Remedy | None:
    """Return the move placed on its element or group.

    None where it belongs to the mix.

    ``about_hz`` is the stretch of the spectrum its finding speaks of; ``carrier`` the element that its reading was laid on. Without one,
    it is the element that has most of the power there.
    """
    kind = kind_of(remedy)
    if kind.is_fader and remedy.part == "percussive" and any(group.name == "drums" for group in elements.groups):
        return replace(remedy, part="drums")
    if kind.tone is None or remedy.part not in ("mix", "sustained") or (remedy.gain_db or 0.0) >= 0.0:
        return None
    there = [
        element
        for element in elements.elements
        if element.copy_of is None and not (remedy.part == "sustained" and element.group == "drums")
    ]
    band_hz = about_hz if about_hz is not None and kind.tone.from_finding else kind.tone.edges_hz(remedy)
    powers = {element.name: _power(element, *band_hz) for element in there}
    total = sum(powers.values())
    if total <= 0.0:
        return None
    name, power = max(powers.items(), key=lambda entry: entry[1])
    if carrier in powers:
        name, power = carrier, powers[carrier]
    elif power < CARRIES * total:
        return None
    return None if power <= 0.0 else replace(remedy, part=name, gain_db=round(_deeper_db(remedy.gain_db or 0.0, power / total), 1))


def _all_lean(louder: str, elements: Elements) -> Remedy | None:
    """Return the louder side turned down by as much as what belongs in the middle leans.

    None where the middle one of these does not lean.
    """
    sounding = [element for element in elements.elements if element.copy_of is None and element.level.integrated_lufs is not None]
    central = [element for element in sounding if element.role in CENTRAL]
    asked = central if len(central) >= FEWEST else sounding
    leans_db = [LEANS[louder] * (element.level.pan_db or 0.0) for element in asked]
    lean_db = median_low(leans_db) if len(asked) >= FEWEST else 0.0
    return Remedy("gain", part=louder, gain_db=-round(lean_db, 1)) if lean_db >= LEAST_LEAN_DB else None


def _turned_back(name: str | None, elements: Elements) -> Remedy | None:
    """Return the leaning element turned back to the middle.

    None where no single one leans, or its channels are one.
    """
    element = None if name is None else elements.named(name)
    pan_db = None if element is None else element.level.pan_db
    return None if not pan_db else Remedy("pan", part=name or "", gain_db=-round(pan_db, 1))


def _power(element: Element, low_hz: float, high_hz: float) -> float:
    """Return the element's mean power in a band over the whole song."""
    level = element.level
    inside = zip(level.third_octave_hz, level.third_octave_db, strict=True)
    return float(level.plays_share * sum(10.0 ** (db / 10.0) for hz, db in inside if low_hz <= hz <= high_hz))


def _deeper_db(gain_db: float, share: float) -> float:
    """Return the element's gain that equals one on the sum.

    With this share of the power it changes the sum's power as ``gain_db`` on the sum would, never below -12 dB.

    >>> round(_deeper_db(-3.0, 1.0), 1), round(_deeper_db(-3.0, 0.6), 1), _deeper_db(-6.0, 0.5)
    (-3.0, -7.7, -12.0)
    """
    left = (10.0 ** (gain_db / 10.0) - (1.0 - share)) / share
    return max(10.0 * log10(left), DEEPEST_DB) if left > 0.0 else DEEPEST_DB
