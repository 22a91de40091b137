"""Steps of level that every band of the spectrum shares.

What a fader or a clip's gain does, and an arrangement hardly ever.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from features.records.base import Moment
from features.records.sections import Section
from features.sound.decibels import powers_to_db
from features.sound.spectrogram import Spectrogram

Floats = NDArray[np.float64]

SIDE_S, GAP_S = 4.0, 0.6  # what is compared on either side of a boundary, and what is left out around it
FEWEST_FRAMES = 6  # in half a side
RANGE_DB = 45.0  # bands that lie further below the strongest on both sides are left out
FEWEST_BANDS = 12
PLACES_S = (0.0, -0.4, 0.4)  # around a boundary, which is not known better than that
EVEN_DB, MOST_EVEN_DB = 2.0, 2.5  # how far bands may differ from the step they share: robust spread; four bands of five
EVEN_SHARE, MOST_EVEN_SHARE = 0.25, 0.4  # of a larger step: music goes on beneath it,
LARGEST_EVEN_DB, LARGEST_MOST_EVEN_DB = 3.5, 5.0  # up to here
LEAST_DB = 2.0
DRIFT_SHARE = 0.2  # a level that goes on moving by more of the step is a swell, not a step


def measure_even_steps(sections: Sequence[Section], spectrogram: Spectrogram) -> tuple[Moment, ...]:
    """Return the boundaries where all bands step alike.

    Between sections; the value is the step in dB, negative when it falls.

    Notes
    -----
    Each third octave's mean power over 4 s before and after the boundary, or 0.4 s beside it, gives its own step. The step of the whole
    is their median. It is even when their spread (1.4826 times the median distance from it) is at most 2 dB, or a quarter of it up to
    3.5 dB, and four bands of five lie within 2.5 dB, or 0.4 of it up to 5 dB; and a step unless the level moves on the same way within the
    sides, by more than a fifth of it on average: a swell or a fade. An instrument that comes or goes changes some bands and leaves others.
    """
    times = spectrogram.times_s()
    moments = (_whole_step(times, spectrogram, section.start_s) for section in sections[1:])
    return tuple(moment for moment in moments if moment is not None)


def _whole_step(times: Floats, spectrogram: Spectrogram, boundary_s: float) -> Moment | None:
    """Return the largest of the steps around a boundary: beside its place a step is smeared."""
    steps = [_step_db(times, spectrogram, boundary_s + place_s) for place_s in PLACES_S]
    largest = max((step for step in steps if step is not None), key=abs, default=None)
    return None if largest is None else Moment(max(boundary_s - SIDE_S, 0.0), boundary_s + SIDE_S, largest)


def _step_db(times: Floats, spectrogram: Spectrogram, edge_s: float) -> float | None:
    halves = [_half_db(times, spectrogram, edge_s + start) for start in (-GAP_S - SIDE_S, -GAP_S - SIDE_S / 2, GAP_S, GAP_S + SIDE_S / 2)]
    quarters = [half for half in halves if half is not None]
    if len(quarters) < len(halves):
        return None
    early, before, after, late = quarters
    first, second = _mean_db(early, before), _mean_db(after, late)
    top = max(float(first.max()), float(second.max()))
    audible = np.maximum(first, second) > top - RANGE_DB
    if audible.sum() < FEWEST_BANDS:
        return None
    steps = (second - first)[audible]
    step = float(np.median(steps))
    moves_on = float(np.median((before - early)[audible]) + np.median((late - after)[audible])) / 2.0  # unrest on one side is no swell
    if abs(step) < LEAST_DB or not _even(steps, step) or moves_on * np.sign(step) > DRIFT_SHARE * abs(step):
        return None
    return step


def _even(steps: Floats, step: float) -> bool:
    apart = np.abs(steps - step)
    spread, most = 1.4826 * float(np.median(apart)), float(np.percentile(apart, 80))
    return spread <= _allowed(step, EVEN_DB, EVEN_SHARE, LARGEST_EVEN_DB) and most <= _allowed(
        step, MOST_EVEN_DB, MOST_EVEN_SHARE, LARGEST_MOST_EVEN_DB
    )


def _allowed(step: float, least_db: float, share: float, largest_db: float) -> float:
    return max(least_db, min(share * abs(step), largest_db))


def _half_db(times: Floats, spectrogram: Spectrogram, start_s: float) -> Floats | None:
    first, last = np.searchsorted(times, (start_s, start_s + SIDE_S / 2))
    if last - first < FEWEST_FRAMES:
        return None
    power = (spectrogram.left[first:last] + spectrogram.right[first:last]).astype(np.float64).mean(axis=0)
    decibels: Floats = powers_to_db(power)
    return decibels


def _mean_db(left: Floats, right: Floats) -> Floats:
    decibels: Floats = powers_to_db((10 ** (left / 10) + 10 ** (right / 10)) / 2)
    return decibels
