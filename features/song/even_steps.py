"""Steps of level that every band of the spectrum shares.

What a fader or a clip's gain does, and an arrangement hardly ever.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.records.base import Moment
from features.records.sections import Section
from features.sound.decibels import powers_to_db
from features.sound.spectrogram import Spectrogram

Floats = NDArray[np.float64]

SIDE_S, GAP_S = 4.0, 0.6  # what is compared on either side of a boundary, and what is left out around it
GRID_S = 0.4
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
    """Return the places where all bands step alike.

    The value is the step in dB, negative when it falls.

    Notes
    -----
    Each third octave's mean power over 4 s before and after the place gives its own step. The step of the whole
    is their median. It is even when their spread (1.4826 times the median distance from it) is at most 2 dB, or a quarter of it up to
    3.5 dB, and four bands of five lie within 2.5 dB, or 0.4 of it up to 5 dB; and a step unless the level moves on the same way within the
    sides, by more than a fifth of it on average: a swell or a fade. An instrument that comes or goes changes some bands and leaves others.
    Looked at are the boundaries between sections, or 0.4 s beside them, and every 0.4 s between: what only moves a fader leaves the sound
    alike, and often makes no boundary. Of places less than 4 s apart the largest step counts, one at a boundary first.
    """
    picture = _Picture.of(spectrogram)
    edges = [section.start_s for section in sections[1:]]
    chosen = [(edge_s, step) for edge_s in edges if (step := _largest_step(picture, edge_s)) is not None]
    between = ((place_s, picture.step_db(place_s)) for place_s in np.arange(GAP_S + SIDE_S, picture.duration_s - GAP_S - SIDE_S, GRID_S))
    steps = [(float(place_s), step) for place_s, step in between if step is not None]
    for place_s, step in sorted(steps, key=lambda pair: -abs(pair[1])):
        if all(abs(place_s - other_s) >= SIDE_S for other_s, _ in chosen):
            chosen.append((place_s, step))
    return tuple(Moment(max(place_s - SIDE_S, 0.0), place_s + SIDE_S, step) for place_s, step in sorted(chosen))


def _largest_step(picture: "_Picture", boundary_s: float) -> float | None:
    """Return the largest of the steps around a boundary: beside its place a step is smeared."""
    steps = [picture.step_db(boundary_s + place_s) for place_s in PLACES_S]
    return max((step for step in steps if step is not None), key=abs, default=None)


@dataclass(frozen=True, slots=True)
class _Picture:
    """Power of all bands summed up to each frame, shape ``(frames + 1, bands)``, and the frames' times."""

    times_s: Floats
    sums: Floats
    duration_s: float

    @staticmethod
    def of(spectrogram: Spectrogram) -> "_Picture":
        power = (spectrogram.left + spectrogram.right).astype(np.float64)
        sums = np.concatenate([np.zeros((1, power.shape[1])), np.cumsum(power, axis=0)])
        return _Picture(spectrogram.times_s(), sums, spectrogram.duration_s)

    def step_db(self, edge_s: float) -> float | None:
        """Return the step that all bands share from one side of a place to the other; None where there is none."""
        starts_s = (edge_s - GAP_S - SIDE_S, edge_s - GAP_S - SIDE_S / 2, edge_s + GAP_S, edge_s + GAP_S + SIDE_S / 2)
        quarters = [half for half in map(self._half_db, starts_s) if half is not None]
        if len(quarters) < len(starts_s):
            return None
        early, before, after, late = quarters
        first, second = _mean_db(early, before), _mean_db(after, late)
        audible = np.maximum(first, second) > max(float(first.max()), float(second.max())) - RANGE_DB
        if audible.sum() < FEWEST_BANDS:
            return None
        steps = (second - first)[audible]
        step = float(np.median(steps))
        if abs(step) < LEAST_DB or not _even(steps, step):
            return None
        moves_on = float(np.median((before - early)[audible]) + np.median((late - after)[audible])) / 2.0  # unrest on one side is no swell
        return None if moves_on * np.sign(step) > DRIFT_SHARE * abs(step) else step

    def _half_db(self, start_s: float) -> Floats | None:
        first, last = np.searchsorted(self.times_s, (start_s, start_s + SIDE_S / 2))
        if last - first < FEWEST_FRAMES:
            return None
        decibels: Floats = powers_to_db(np.maximum(self.sums[last] - self.sums[first], 0.0) / (last - first))
        return decibels


def _even(steps: Floats, step: float) -> bool:
    apart = np.abs(steps - step)
    spread, most = 1.4826 * float(np.median(apart)), float(np.percentile(apart, 80))
    return spread <= _allowed(step, EVEN_DB, EVEN_SHARE, LARGEST_EVEN_DB) and most <= _allowed(
        step, MOST_EVEN_DB, MOST_EVEN_SHARE, LARGEST_MOST_EVEN_DB
    )


def _allowed(step: float, least_db: float, share: float, largest_db: float) -> float:
    return max(least_db, min(share * abs(step), largest_db))


def _mean_db(left: Floats, right: Floats) -> Floats:
    decibels: Floats = powers_to_db((10 ** (left / 10) + 10 ** (right / 10)) / 2)
    return decibels
