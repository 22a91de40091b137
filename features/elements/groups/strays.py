"""Stray peaks of a group.

Rare ones that stand clearly above its usual peaks, and the ceiling that catches only them.

Peaks are the highest milliseconds within 0.1 s on both sides. Sorted by height, strays end at a large step down to the next peak
among the first twelve a minute: a step of at least 1 dB, with the usual peaks (median of the next thirty a minute) at least 3 dB below
the lowest stray; of several such steps the lowest that is half as large as the largest. Own definition after common practice (a limiter
that works now and then, not all the time), no published source.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.elements.dynamics.envelope import STEP_S, STEPS_PER_S
from features.processors.dynamics.limiter import gain_curve
from features.processors.dynamics.peak_limiter import CATCHING
from features.records.base import Moment
from features.sound.compiled import kernel
from features.sound.decibels import amplitudes_to_db

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

APART_S = 0.1
FLOOR_DB = 40.0  # below the highest: no peak of any interest
MOST_PER_MINUTE = 12.0
NEXT_PER_MINUTE = 30.0
FEWEST_USUAL = 8
STEP_DB = 1.0
ALIKE = 0.5  # of the largest step
ABOVE_USUAL_DB = 3.0
CEILING_ABOVE_DB = 1.0  # over the highest usual peak, half-way up at most
RESTING_DB = 0.1  # less reduction than this counts as none
MOST_MOMENTS = 20
BEFORE_S, AFTER_S = 0.05, 0.2


@dataclass(frozen=True, slots=True)
class Strays:
    """Rare peaks of a group.

    Attributes
    ----------
    times_s, heights_dbfs
        When and how high, highest first, shape ``(strays,)``.
    per_minute
        How many in a minute of playing.
    usual_dbfs
        The usual peaks' height.
    ceiling_dbfs
        What catches them and nothing else; ``None`` without strays.
    resting_share
        Share of the song in which a limiter there takes off less than 0.1 dB.
    """

    times_s: Floats
    heights_dbfs: Floats
    per_minute: float
    usual_dbfs: float | None
    ceiling_dbfs: float | None
    resting_share: float | None

    def moments(self) -> tuple[Moment, ...]:
        """Return the first twenty as moments."""
        pairs = zip(self.times_s[:MOST_MOMENTS].tolist(), self.heights_dbfs[:MOST_MOMENTS].tolist(), strict=True)
        return tuple(Moment(max(time - BEFORE_S, 0.0), time + AFTER_S, height) for time, height in pairs)


@kernel
def mark_peaks(peak: Singles, apart: int, least: float, marked: NDArray[np.bool_]) -> None:
    """Mark the steps that are peaks.

    Above ``least``, and the highest within ``apart`` steps on both sides, the first of equals.
    """
    frames = peak.shape[0]
    n = 0
    while n < frames:
        value = peak[n]
        if value <= least:
            n += 1
            continue
        highest = True
        for near in range(max(n - apart, 0), min(n + apart + 1, frames)):
            if peak[near] > value or (peak[near] == value and near < n):
                highest = False
                break
        marked[n] = highest
        n += 1


def find_peaks(peak: Singles, apart_s: float = APART_S, floor_db: float = FLOOR_DB) -> NDArray[np.int64]:
    """Return the steps at which an envelope peaks.

    Of 1 ms each, in order.
    """
    marked = np.zeros(peak.size, np.bool_)
    highest = float(peak.max(initial=0.0))
    if highest > 0.0:
        mark_peaks(peak, round(apart_s * STEPS_PER_S), highest * 10 ** (-floor_db / 20), marked)
    return np.flatnonzero(marked)


def find_strays(peak: Singles, playing_s: float) -> Strays:
    """Find the stray peaks of an envelope.

    Parameters
    ----------
    peak
        Highest magnitude per millisecond, linear, shape ``(steps,)``.
    playing_s
        How long the group plays, in seconds.
    """
    places = find_peaks(peak)
    heights = amplitudes_to_db(peak[places])
    order = np.argsort(-heights, kind="stable")
    places, heights = places[order], heights[order]
    minutes = max(playing_s, 1.0) / 60
    count = _count(heights, minutes)
    following = heights[count : count + max(round(NEXT_PER_MINUTE * minutes), FEWEST_USUAL)]
    usual = float(np.median(following)) if following.size else None
    if not count:
        return Strays(np.zeros(0), np.zeros(0), 0.0, usual, None, None)
    ceiling = float(heights[count] + min((heights[count - 1] - heights[count]) / 2, CEILING_ABOVE_DB))
    times_s: Floats = (places[:count] + 0.5) * np.float64(STEP_S)
    return Strays(times_s, heights[:count], count / minutes, usual, ceiling, resting_share(peak, ceiling))


def _count(heights: Floats, minutes: float) -> int:
    """Return how many are strays; of two steps of about one size the one that takes in more."""
    most = min(int(MOST_PER_MINUTE * minutes), heights.size - FEWEST_USUAL)
    width = max(round(NEXT_PER_MINUTE * minutes), FEWEST_USUAL)
    steps: dict[int, float] = {}
    for count in range(1, most + 1):
        step = float(heights[count - 1] - heights[count])
        usual = float(np.median(heights[count : count + width]))
        if step > STEP_DB and heights[count - 1] >= usual + ABOVE_USUAL_DB:
            steps[count] = step
    enough = ALIKE * max(steps.values(), default=0.0)
    return max((count for count, step in steps.items() if step >= enough), default=0)


def resting_share(peak: Singles, ceiling_dbfs: float) -> float:
    """Return the share of the time a limiter rests.

    At ``ceiling_dbfs``, taking off less than 0.1 dB.

    The limiter is that of `features.processors.dynamics.peak_limiter`, run on the envelope.
    """
    if not peak.size:
        return 1.0
    gain = gain_curve(peak, 10 ** (ceiling_dbfs / 20), STEPS_PER_S, CATCHING)
    return float(np.mean(gain > 10 ** (-RESTING_DB / 20)))
