"""What changed in tone between two spectra at matched loudness."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from features.records.mastering import ToneChange
from features.records.spectrum import Spectrum
from features.sound.k_weighting import k_weighting

Floats = NDArray[np.float64]

BRIGHT_HZ = 5000.0
TOP_HZ = 16500.0
EMPTY_DB = 60.0  # a band this far below the strongest holds nothing that is heard
LEAST_DB = 0.5  # about the smallest broad change of level that is heard on music at all (docs/sources.md, just-noticeable-level)
MOST_CHANGES = 3
LOWEST_HZ = 39.0  # what changes below, or above `TOP_HZ`, is hardly heard as tone
WIDTH = 10**0.05 - 10**-0.05  # of a third octave, over its centre (IEC 61260-1)


@cache
def _k_power(rate_hz: float = 48000.0) -> tuple[Floats, Floats]:
    hz = np.geomspace(10.0, 23000.0, 400)
    z = np.exp(-2j * np.pi * hz / rate_hz)
    response = np.ones(hz.size, np.complex128)
    for b0, b1, b2, a1, a2 in k_weighting(rate_hz):
        response *= (b0 + b1 * z + b2 * z * z) / (1 + a1 * z + a2 * z * z)
    return hz, np.abs(response) ** 2


def k_power(hz: Floats) -> Floats:
    """Return the K-weighting's power gain at some frequencies.

    BS.1770-5, Annex 1.
    """
    return np.asarray(np.interp(hz, *_k_power()))


def _density_db(spectrum: Spectrum, bands: int) -> Floats | None:
    if spectrum.level_db is None or not bands:
        return None
    return np.array(spectrum.third_octave_db[:bands]) + spectrum.level_db


def matched_change_db(before: Spectrum, after: Spectrum) -> tuple[float, ...]:
    """Return the change per third octave at matched loudness.

    K-weighted; nothing when one is silent.

    Bands in which both hold next to nothing are 0.
    """
    bands = min(len(before.third_octave_hz), len(after.third_octave_hz))
    first, second = _density_db(before, bands), _density_db(after, bands)
    if first is None or second is None:
        return ()
    hz = np.array(before.third_octave_hz[:bands])
    weight = k_power(hz) * hz
    louder = 10 * np.log10((weight * 10 ** (second / 10)).sum() / (weight * 10 ** (first / 10)).sum())
    change = second - first - louder
    power = np.maximum(first, second - louder) + 10 * np.log10(hz)
    change[power < power.max() - EMPTY_DB] = 0.0
    return tuple(float(band_db) for band_db in change)


def bright_change_db(before: Spectrum, after: Spectrum) -> float | None:
    """Return the change above 5 kHz at matched loudness.

    Bands count alike, as the ear hears them.
    """
    change = matched_change_db(before, after)
    high = [db for hz, db in zip(before.third_octave_hz, change, strict=False) if BRIGHT_HZ <= hz <= TOP_HZ and db != 0.0]
    if not change:
        return None
    return float(np.mean(high)) if high else 0.0


def changes(hz: tuple[float, ...], change_db: tuple[float, ...], least_db: float = LEAST_DB) -> tuple[ToneChange, ...]:
    """Return the stretches that changed most, largest first.

    Each is a top or bottom, out to where half of it is left.

    Examples
    --------
    >>> bands = tuple(1000.0 * 2 ** (step / 3) for step in range(7))
    >>> [change] = changes(bands, (0.0, 0.0, 0.0, 2.0, 2.0, 2.0, 0.0))
    >>> round(change.centre_hz), round(change.gain_db, 1)
    (2520, 2.0)
    """
    if not change_db:
        return ()
    padded = np.pad(np.array(change_db), 1, mode="edge")
    smooth = 0.25 * padded[:-2] + 0.5 * padded[1:-1] + 0.25 * padded[2:]
    left = np.where((np.array(hz) >= LOWEST_HZ) & (np.array(hz) <= TOP_HZ), smooth, 0.0)
    tone_changes: list[ToneChange] = []
    while len(tone_changes) < MOST_CHANGES:
        top = int(np.argmax(np.abs(left)))
        if abs(left[top]) < least_db:
            break
        inside = smooth * np.sign(smooth[top]) >= 0.5 * abs(smooth[top])
        low, high = top, top
        while low > 0 and inside[low - 1]:
            low -= 1
        while high < smooth.size - 1 and inside[high + 1]:
            high += 1
        half = 2 ** (1 / 6)
        near = np.array(change_db[max(top - 1, 0) : top + 2])
        gain = float(near[np.argmax(near * np.sign(smooth[top]))])  # smoothing finds the place; the reading is that of the band
        tone_changes.append(ToneChange(hz[low] / half, hz[high] * half, hz[top], gain))
        left[low : high + 1] = 0.0
        while low > 0 and left[low - 1] * smooth[top] > 0:  # the rest of the same slope
            low -= 1
            left[low] = 0.0
        while high < left.size - 1 and left[high + 1] * smooth[top] > 0:
            high += 1
            left[high] = 0.0
    return tuple(tone_changes)
