"""Small sums over readings that several rules need."""

from math import log2, log10, sqrt
from typing import Protocol

from features.records.balance import Balance, Bell, Target
from features.records.base import Course, Measurement, Moment, Span
from features.records.spectrum import Spectrum
from rules.base import Confidence, NotApplicable
from rules.shared.words import PART_WORDS

MOST_SPANS = 3
MOST_EXCESS = 4.0
ENOUGH_SONGS = 5


def missing(record: Measurement, field: str) -> NotApplicable:
    """Return that a rule cannot judge because ``field`` was not measured, with the record's own reason."""
    reasons = (absence.reason for absence in record.absent if absence.field == field)
    return NotApplicable(next(reasons, f"{field} could not be measured"))


def past(reading: float, limit: float, tolerance: float) -> float:
    """Return how far a reading lies above its limit, in tolerances, from 0 to 4; negate both for a lower limit.

    >>> past(7.0, 4.0, 2.0), past(3.0, 4.0, 2.0), past(-7.0, -8.0, 0.5)
    (1.5, 0.0, 2.0)
    """
    return min(max((reading - limit) / tolerance, 0.0), MOST_EXCESS)


def within(value: float, low: float, high: float) -> float:
    """Return the value, kept between ``low`` and ``high``."""
    return min(max(value, low), high)


def mean_between(hz: tuple[float, ...], values: tuple[float, ...], low_hz: float, high_hz: float) -> float | None:
    """Return the mean of the bands whose centres lie from ``low_hz`` to ``high_hz``; None when there is none."""
    chosen = [value for centre, value in zip(hz, values, strict=True) if low_hz <= centre <= high_hz]
    return sum(chosen) / len(chosen) if chosen else None


def bell_edges(frequency_hz: float, q: float) -> tuple[float, float]:
    """Return where a bell of quality ``q`` has half of its gain in dB: a band whose width is frequency / q.

    >>> low_hz, high_hz = bell_edges(1000.0, 1.0)
    >>> round(low_hz), round(high_hz)
    (618, 1618)
    """
    half = 0.5 / q
    return frequency_hz * (sqrt(1.0 + half * half) - half), frequency_hz * (sqrt(1.0 + half * half) + half)


CLUSTERED = 0.08  # share of the loud moments: more peaks close together below the top were flat before a conversion (conversion-trial)
EDGE = 0.5  # spreads from the target at which a cut stops: inside what songs do, with some room for error
MOST_OVER = 1.25  # of the rise that was read: the rest is slope, and another rule's
MOST_CUT_DB = 12.0


def bell_cut_db(balance: Balance, target: Target, frequency_hz: float, q: float, rise_db: float) -> float:
    """Return the cut that brings the middle of a rise inside the target's tolerance, at least about half of the rise.

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


SLOPE_HZ = (99.0, 10100.0)


def bell_shape(hz: float, frequency_hz: float, q: float) -> float:
    """Return the share of a bell's gain in dB at a frequency, for a bell of a few dB."""
    return 1.0 / (1.0 + (q * (hz / frequency_hz - frequency_hz / hz)) ** 2)


def bell_slope(balance: Balance, bell: Bell) -> float:
    """Return what a bell alone does to the slope of the spectrum, 100 Hz-10 kHz, in dB per octave (least squares)."""
    rows = [
        (log2(hz), bell.gain_db * bell_shape(hz, bell.frequency_hz, bell.q))
        for hz in balance.third_octave_hz
        if SLOPE_HZ[0] <= hz <= SLOPE_HZ[1]
    ]
    if len(rows) < 2:
        return 0.0
    middle = sum(octave for octave, _ in rows) / len(rows)
    return sum((octave - middle) * gain_db for octave, gain_db in rows) / sum((octave - middle) ** 2 for octave, _ in rows)


def extreme_stretch(course: Course, length_s: float, *, highest: bool) -> tuple[Span, ...]:
    """Return the stretch of about ``length_s`` in which a course is highest or lowest on average; none if it never plays so long."""
    steps = max(round(length_s / course.step_s), 1)
    best: tuple[float, int] | None = None
    for start in range(len(course.values) - steps + 1):
        playing = [value for value in course.values[start : start + steps] if value is not None]
        if len(playing) < steps:
            continue
        key = sum(playing) / steps if highest else -sum(playing) / steps
        if best is None or key > best[0]:
            best = (key, start)
    if best is None:
        return ()
    start_s = course.start_s + best[1] * course.step_s
    return (Span(start_s, start_s + steps * course.step_s),)


def spans_of(moments: tuple[Moment, ...]) -> tuple[Span, ...]:
    """Return the first few moments as spans."""
    return tuple(Span(moment.start_s, moment.end_s) for moment in moments[:MOST_SPANS])


def sure_of_tone(target: Target, *, clear: bool) -> tuple[Confidence, str]:
    """Return how sure a claim about broad tone is, and why; ``clear`` says whether the reading lies well past its limit."""
    if target.songs == 0:
        return "medium", (
            "without references this compares with released music in general, where songs differ as much; your own references "
            "or an earlier bounce would make it firmer"
        )
    if target.songs < ENOUGH_SONGS:
        return "medium", f"it compares with {target.songs} of your songs; {ENOUGH_SONGS} or more would make it firmer"
    if clear:
        return "high", f"it lies well outside what your {target.songs} reference songs do"
    return "medium", f"it lies outside what your {target.songs} reference songs usually do, but not far"


def songs_words(target: Target) -> str:
    """Return the references as a count."""
    return "reference" if target.songs == 1 else f"{target.songs} references"


USUAL_SPREADS = 2.0  # nearly all further songs of the references' kind lie within so many spreads of their middle


def usual_range(target: Target, name: str) -> tuple[float, float] | None:
    """Return between what nearly all songs like the references lie in a headline reading; None with fewer than five that have it."""
    usual = next((usual for usual in target.usual if usual.name == name and usual.songs >= ENOUGH_SONGS), None)
    if usual is None:
        return None
    return usual.median - USUAL_SPREADS * usual.spread, usual.median + USUAL_SPREADS * usual.spread


CLEAR_WITH_REFERENCES = 3.5  # of songs of the references' own kind, one in sixteen has such a rise; docs/references.md


def sure_of_bell(target: Target, bell: Bell, *, clear: bool, clear_in_general: float) -> tuple[Confidence, str]:
    """Return how sure a claim about one broad region is: only a strong one is more than a hint, since all regions are looked through."""
    confidence, because = sure_of_tone(target, clear=clear)
    if target.songs == 0:
        return ("low", because) if abs(bell.strength) < clear_in_general else (confidence, because)
    if abs(bell.strength) < CLEAR_WITH_REFERENCES:
        return "low", f"it lies outside what your {songs_words(target)} usually do, but many a song of their kind has one such region"
    return confidence, because


def region_off_db(balance: Balance, target: Target, bell: Bell) -> float:
    """Return how far the region of a bell lies off the target on average, with level and slope taken out."""
    off_db = tuple(each * spread for each, spread in zip(balance.unusual, target.spread_db, strict=False))
    return mean_between(balance.third_octave_hz, off_db, *bell_edges(bell.frequency_hz, bell.q)) or 0.0


def shelf_strength(balance: Balance, kinds: tuple[str, ...], *, raised: bool) -> float:
    """Return how strongly one end of the spectrum looks raised, or lowered, by a shelf of one of these kinds; 0 where it does not."""
    return max((abs(shelf.strength) for shelf in balance.shelves if shelf.kind in kinds and (shelf.strength > 0.0) == raised), default=0.0)


class Strengths(Protocol):
    """The limits of a rule about broad regions, with references and without."""

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
    """Return the strength from which a rise or hollow is reported: a lower one where every part has it."""
    if target.songs == 0:
        return limits.everywhere_in_general if bell.parts_agree else limits.strength_in_general
    return limits.strength_everywhere if bell.parts_agree else limits.strength


def standing_of(bell: Bell) -> str:
    """Return in which part of the mix a broad region stands."""
    if bell.parts_agree:
        return "drums, sustained sounds, centre and sides all have it"
    if bell.part == "mix":
        return "no single part of the mix stands out as where it comes from"
    return f"it shows mainly in {PART_WORDS[bell.part]}"


def band_level_dbfs(spectrum: Spectrum, low_hz: float, high_hz: float) -> float | None:
    """Return the usual level of a stretch of the spectrum: its third-octave bands' power per Hz times their widths, summed."""
    if spectrum.level_db is None:
        return None
    width = 10.0**0.05 - 10.0**-0.05  # of a third octave, over its centre (IEC 61260-1)
    powers = [
        10.0 ** ((spectrum.level_db + curve_db) / 10.0) * width * hz
        for hz, curve_db in zip(spectrum.third_octave_hz, spectrum.third_octave_db, strict=True)
        if low_hz <= hz <= high_hz
    ]
    return 10.0 * log10(sum(powers)) if powers else None


def loudest_of(spectrum: Spectrum, low_hz: float, high_hz: float) -> tuple[Span, ...]:
    """Return where the strongest band of a stretch of the spectrum stands highest; none when it was not measured."""
    bands = zip(spectrum.third_octave_hz, spectrum.third_octave_db, spectrum.band_loudest, strict=False)
    chosen = [(curve_db, span) for hz, curve_db, span in bands if low_hz <= hz <= high_hz]
    return (max(chosen, key=lambda each: each[0])[1],) if chosen else ()
