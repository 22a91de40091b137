"""Broad rises and hollows of a spectrum, read as bells."""

from math import log2, sqrt
from typing import Protocol

from features.records.balance import Balance, Bell, Target
from rules.shared.bands import mean_between
from rules.shared.excess import within
from rules.shared.words import PART_WORDS

EDGE = 0.5  # spreads from the target at which a cut stops: inside what songs do, with some room for error
MOST_OVER = 1.25  # of the rise that was read: the rest is slope, and another rule's
MOST_CUT_DB = 12.0
SLOPE_HZ = (99.0, 10100.0)


def bell_edges(frequency_hz: float, q: float) -> tuple[float, float]:
    """Return where a bell has half its gain in dB.

    The band's width is frequency / ``q``.

    The band's width is frequency / ``q``.

    >>> low_hz, high_hz = bell_edges(1000.0, 1.0)
    >>> round(low_hz), round(high_hz)
    (618, 1618)
    """
    half = 0.5 / q
    return frequency_hz * (sqrt(1.0 + half * half) - half), frequency_hz * (sqrt(1.0 + half * half) + half)


def bell_shape(hz: float, frequency_hz: float, q: float) -> float:
    """Return the share of a bell's gain at a frequency.

    In dB, for a bell of a few dB.
    """
    return 1.0 / (1.0 + (q * (hz / frequency_hz - frequency_hz / hz)) ** 2)


def bell_cut_db(balance: Balance, target: Target, frequency_hz: float, q: float, rise_db: float) -> float:
    """Return the cut that brings a rise inside tolerance.

    Its middle, and at least about half of the rise.

    Its middle, and at least about half of the rise.

    Levels are relative to their mean over 200 Hz-5 kHz, which the cut lowers as well: by the bell's mean over those bands.
    """
    shape = [bell_shape(hz, frequency_hz, q) for hz in balance.third_octave_hz]
    lowered = mean_between(balance.third_octave_hz, tuple(shape), 199.0, 5100.0) or 0.0
    around = (frequency_hz / 1.15, frequency_hz * 1.15)
    above_db = mean_between(balance.third_octave_hz, balance.deviation_db, *around)
    spread_db = mean_between(target.third_octave_hz, target.spread_db, *around)
    half_db = min(0.5 * rise_db, 4.0)
    if above_db is None or spread_db is None:
        return half_db
    return min(within((above_db - EDGE * spread_db) / (1.0 - lowered), half_db, MOST_OVER * rise_db), MOST_CUT_DB)


def bell_slope(balance: Balance, bell: Bell) -> float:
    """Return what a bell alone does to the spectrum's slope.

    Least squares over 100 Hz-10 kHz, in dB per octave.
    """
    rows = [
        (log2(hz), bell.gain_db * bell_shape(hz, bell.frequency_hz, bell.q))
        for hz in balance.third_octave_hz
        if SLOPE_HZ[0] <= hz <= SLOPE_HZ[1]
    ]
    if len(rows) < 2:
        return 0.0
    middle = sum(octave for octave, _ in rows) / len(rows)
    return sum((octave - middle) * gain_db for octave, gain_db in rows) / sum((octave - middle) ** 2 for octave, _ in rows)


def region_off_db(balance: Balance, target: Target, bell: Bell) -> float:
    """Return how far a bell's region lies off the target.

    On average, with level and slope taken out.
    """
    off_db = tuple(unusual * spread for unusual, spread in zip(balance.unusual, target.spread_db, strict=False))
    return mean_between(balance.third_octave_hz, off_db, *bell_edges(bell.frequency_hz, bell.q)) or 0.0


def shelf_strength(balance: Balance, kinds: tuple[str, ...], *, raised: bool) -> float:
    """Return how strongly one end of the spectrum looks shelved.

    Raised or lowered, by one of these kinds; 0 where it does not.
    """
    return max((abs(shelf.strength) for shelf in balance.shelves if shelf.kind in kinds and (shelf.strength > 0.0) == raised), default=0.0)


class Strengths(Protocol):
    """Limits of a rule about broad regions.

    With references and without.
    """

    @property
    def strength(self) -> float:
        """For what stands in one part, with references."""

    @property
    def strength_everywhere(self) -> float:
        """For what every part has, with references."""

    @property
    def strength_in_general(self) -> float:
        """For what stands in one part, without references."""

    @property
    def everywhere_in_general(self) -> float:
        """For what every part has, without references."""


def least_strength(bell: Bell, target: Target, limits: Strengths) -> float:
    """Return the strength from which a region is reported.

    A lower one where every part has it.

    A lower one where every part has it.
    """
    if target.songs == 0:
        return limits.everywhere_in_general if bell.parts_agree else limits.strength_in_general
    return limits.strength_everywhere if bell.parts_agree else limits.strength


def standing_of(bell: Bell) -> str:
    """Return in which part of the mix a region stands."""
    if bell.parts_agree:
        return "Drums, sustained sounds, centre and sides all have it"
    if bell.part == "mix":
        return "No single part of the mix is the clear source"
    return f"It shows mainly in {PART_WORDS[bell.part]}"
