"""Tells elements again, and what was done to them.

Fader, pan and equaliser, from one bounce to the next.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from features.elements.fingerprint import COURSE_STEP_S, FLOOR_DB, Fingerprint
from features.sound.bands import erb_bands, third_octaves

Floats = NDArray[np.float64]

LOUD_DB, STRONG_DB = 30.0, 64.0  # below an element's loudest steps and strongest bands: what lies lower says nothing
TOGETHER_DB = (0.05, 0.1, 0.3)  # bands that changed alike, the nearest first: the skirts of a wide bell are no fader
LEAST_SHARE = 0.3  # of the bands must have changed alike, else there is no fader to speak of
LEAST_BAND_DB, LEAST_PAN_DB = 0.5, 0.3
ALIKE, NAMED_ALIKE = 0.93, 0.3  # likeness from which elements are the same: by sound alone, and with the same name
SAME_NAME = 0.15  # what a name counts beside the sound
SAME_PERFORMANCE = 0.75  # correlation of the courses
LAGGED = 0.02  # by how much better than without, a lag must fit
HIGHEST_RATE_HZ = 192000


@dataclass(frozen=True, slots=True)
class BandChange:
    """A stretch of the spectrum that was raised or lowered."""

    low_hz: float
    high_hz: float
    change_db: float


@dataclass(frozen=True, slots=True)
class SoundChange:
    """What was done to one element.

    Attributes
    ----------
    likeness
        Correlation of its course of level then and now: the same performance, or another.
    fader_db
        Change of level that most of its spectrum shares; None where nothing is shared.
    pan_db
        Change of right minus left.
    bands
        What changed beside the fader, strongest first.
    uneven_db
        How far its level moves otherwise than it did (P95 - P5), as a compressor or automation does.
    curve_hz, curve_db
        The change of its spectrum, fader and all.
    """

    likeness: float
    fader_db: float | None
    pan_db: float
    bands: tuple[BandChange, ...]
    uneven_db: float
    curve_hz: tuple[float, ...]
    curve_db: tuple[float, ...]

    @property
    def same_performance(self) -> bool:
        """Whether it is the same recording, processed or not."""
        return self.likeness >= SAME_PERFORMANCE and self.fader_db is not None


def lag_steps(earlier: Sequence[Fingerprint], later: Sequence[Fingerprint]) -> int:
    """Return by how many steps the later bounce starts later.

    From the course of all elements together; 0 unless another fits better.
    """
    first, second = (_loudness(prints) for prints in (earlier, later))
    if min(first.size, second.size) < 2 or first.std() == 0.0 or second.std() == 0.0:
        return 0
    size = 1 << int(first.size + second.size).bit_length()
    product = np.fft.irfft(np.fft.rfft(second - second.mean(), size) * np.conj(np.fft.rfft(first - first.mean(), size)), size)
    best = int(np.argmax(product))
    lag = best if best <= size // 2 else best - size
    return lag if _correlation(*_overlap(first, second, lag)) > _correlation(*_overlap(first, second, 0)) + LAGGED else 0


def match(earlier: Sequence[Fingerprint], later: Sequence[Fingerprint], lag: int) -> tuple[tuple[int, int], ...]:
    """Return which earlier element is which later one.

    By name, course and spectrum.
    """
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - only where two bounces are compared

    if not earlier or not later:
        return ()
    likeness = np.array([[_likeness(old, new, lag) for new in later] for old in earlier])
    named = np.array([[old.name == new.name for new in later] for old in earlier])
    rows, columns = linear_sum_assignment(-(likeness + SAME_NAME * named))
    pairs = zip(rows.tolist(), columns.tolist(), strict=True)
    return tuple((row, column) for row, column in pairs if likeness[row, column] >= (NAMED_ALIKE if named[row, column] else ALIKE))


def change_between(earlier: Fingerprint, later: Fingerprint, lag: int) -> SoundChange:
    """Return what was done to an element.

    The later bounce starts ``lag`` steps later.
    """
    first, second = _overlap(np.array(earlier.course_db), np.array(later.course_db), lag)
    likeness = _correlation(_amplitudes(first), _amplitudes(second))
    loud = (first > first.max(initial=FLOOR_DB) - LOUD_DB) & (second > FLOOR_DB)
    moved = second[loud] - first[loud]
    uneven = float(np.subtract(*np.quantile(moved, (0.95, 0.05)))) if moved.size else 0.0
    hz, curve = _curve(earlier, later, lag)
    shared = _shared(curve)
    panned = _panned(earlier, later)
    fader = shared if panned is None else panned.fader_db
    pan_db = 0.0 if panned is None else panned.pan_db
    bands = panned.bands if panned is not None else () if shared is None else _bands(hz, curve - shared)
    return SoundChange(
        likeness,
        None if fader is None else round(fader, 2) + 0.0,
        pan_db,
        bands,
        uneven,
        tuple(hz.tolist()),
        tuple(np.round(curve, 2).tolist()),
    )


def _loudness(prints: Sequence[Fingerprint]) -> Floats:
    length = max((len(fingerprint.course_db) for fingerprint in prints), default=0)
    total = np.zeros(length)
    for fingerprint in prints:
        total[: len(fingerprint.course_db)] += 10.0 ** (np.array(fingerprint.course_db) / 10.0)
    return np.sqrt(total)


def _overlap(first: Floats, second: Floats, lag: int) -> tuple[Floats, Floats]:
    first, second = first[max(-lag, 0) :], second[max(lag, 0) :]
    count = min(len(first), len(second))
    return first[:count], second[:count]


def _amplitudes(course_db: Floats) -> Floats:
    made: Floats = np.where(course_db <= FLOOR_DB, 0.0, 10.0 ** (course_db / 20.0))
    return made


def _correlation(first: Floats, second: Floats) -> float:
    if first.size < 2 or first.std() == 0.0 or second.std() == 0.0:
        return 1.0 if first.size and np.ptp(first) == np.ptp(second) == 0.0 and bool(first[0]) == bool(second[0]) else 0.0
    return float(np.corrcoef(first, second)[0, 1])


def _likeness(earlier: Fingerprint, later: Fingerprint, lag: int) -> float:
    """Return how alike two elements are: seven parts in ten by their courses, the rest by their spectra."""
    if earlier.silent or later.silent:
        return 1.0 if earlier.silent and later.silent else 0.0
    courses = _overlap(np.array(earlier.course_db), np.array(later.course_db), lag)
    course = _correlation(*(_amplitudes(course_db) for course_db in courses))
    spectra = (10.0 * np.log10(_power(fingerprint.spectra_db).mean(axis=0) + 1e-12) for fingerprint in (earlier, later))
    first, second = _overlap(next(spectra), next(spectra), 0)
    return 0.7 * course + 0.3 * _correlation(first, second)


def _power(levels_db: Sequence[float] | Sequence[Sequence[float]]) -> Floats:
    levels = np.array(levels_db)
    made: Floats = np.where(levels <= FLOOR_DB, 0.0, 10.0 ** (levels / 10.0))
    return made


def _curve(earlier: Fingerprint, later: Fingerprint, lag: int) -> tuple[Floats, Floats]:
    """Return the change of each third octave that the element has sound in."""
    blocks = round(lag * COURSE_STEP_S / earlier.block_s)
    first, second = _overlap(_power(earlier.spectra_db), _power(later.spectra_db), blocks)
    count = min(first.shape[1], second.shape[1]) if first.size and second.size else 0
    before, after = (powers[:, :count].sum(axis=0) if count else np.zeros(0) for powers in (first, second))
    there, change = _difference(before, after)
    hz = np.asarray(third_octaves(HIGHEST_RATE_HZ).centre_hz[:count], np.float64)
    return hz[there], change


def _difference(before: Floats, after: Floats) -> tuple[NDArray[np.bool_], Floats]:
    """Return which bands the element has sound in, and by how much these changed."""
    least = 10.0 ** (-STRONG_DB / 10.0)
    count = min(len(before), len(after))
    before, after = before[:count], after[:count]
    there = (before > least * before.max(initial=0.0)) & (after > 0.1 * least * after.max(initial=0.0))
    return there, 10.0 * np.log10(after[there] / before[there])


def _shared(curve: Floats) -> float | None:
    """Return the change that most bands share; None where too few do."""
    if not curve.size:
        return None
    for most_db in TOGETHER_DB:
        alike = np.abs(curve[:, None] - curve[None, :]) <= most_db
        best = int(np.argmax(alike.sum(axis=1)))
        if alike[best].sum() >= LEAST_SHARE * curve.size:
            return float(np.median(curve[alike[best]]))
    return None


def _bands(hz: Floats, rest: Floats) -> tuple[BandChange, ...]:
    """Return neighbouring bands that changed the same way, by their strongest."""
    edges = [0, *(place for place, (low, high) in enumerate(pairwise(rest), 1) if _way(low) != _way(high)), len(rest)]
    width = 10.0**0.05
    made = []
    for first, last in pairwise(edges):
        part = rest[first:last]
        if part.size and _way(part[0]):
            strongest = float(part[np.argmax(np.abs(part))])
            made.append(BandChange(float(hz[first] / width), float(hz[last - 1] * width), round(strongest, 2)))
    return tuple(sorted(made, key=lambda band: -abs(band.change_db)))


def _way(change_db: float) -> int:
    return 0 if abs(change_db) < LEAST_BAND_DB else 1 if change_db > 0.0 else -1


@dataclass(frozen=True, slots=True)
class _Panned:
    """A pan, and the fader and the equaliser beside it."""

    pan_db: float
    fader_db: float
    bands: tuple[BandChange, ...]


def _panned(earlier: Fingerprint, later: Fingerprint) -> _Panned | None:
    """Return a pan, read in each channel; None without one: pans of equal power keep the mean of both channels' gains."""
    sides = [_difference(*(_power(fingerprint.sides_db[side]) for fingerprint in (earlier, later))) for side in (0, 1)]
    left_db, right_db = (_shared(change) for _, change in sides)
    if left_db is None or right_db is None or abs(right_db - left_db) < LEAST_PAN_DB:
        return None
    both = sides[0][0] & sides[1][0]
    rest = 0.5 * (sides[0][1][both[sides[0][0]]] - left_db + sides[1][1][both[sides[1][0]]] - right_db)
    hz = np.asarray(erb_bands(HIGHEST_RATE_HZ).centre_hz[: len(both)], np.float64)[both]
    fader_db = float(10.0 * np.log10((10.0 ** (left_db / 10.0) + 10.0 ** (right_db / 10.0)) / 2.0))
    return _Panned(round(right_db - left_db, 2), fader_db, _bands(hz, rest))
