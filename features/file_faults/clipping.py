"""Clipping: flat tops at a channel's extreme.

Or all at one level below it (clipped, turned down, something louder added).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.file_faults.sample_scan import HIGHEST, LOWEST, ChannelScan
from features.records.base import Moment

Integers = NDArray[np.int64]

BIN_S = 0.1
STEPS = 32768  # levels are in 16-bit steps
AT_EXTREME = 2  # steps
LEAST_ELSEWHERE, SHARE_ELSEWHERE, LOWEST_ELSEWHERE = 10, 0.8, STEPS // 10
MOST_PLACES = 20


@dataclass(frozen=True, slots=True)
class Clipping:
    """How often and how long the wave is cut.

    Where, and at what level.
    """

    runs: int
    longest: int
    where: tuple[Moment, ...]
    level_dbfs: float | None


def _cut_rows(rows: Integers, extreme: int) -> Integers:
    """Return the rows (bin, level, count, longest) of one side of the wave that are clipping.

    Flat tops below the extreme count only where they gather at one level: at least 10 of them and 80 % of all, above -20 dBFS.
    """
    at_extreme = np.abs(rows[:, 1] - extreme) <= AT_EXTREME
    if at_extreme.any() or rows.size == 0:
        return rows[at_extreme]
    levels, place = np.unique(rows[:, 1], return_inverse=True)
    counts = np.bincount(place.ravel(), weights=rows[:, 2])
    commonest = levels[int(counts.argmax())]
    gathered = np.abs(rows[:, 1] - commonest) <= AT_EXTREME
    count = int(rows[gathered, 2].sum())
    enough = count >= max(LEAST_ELSEWHERE, SHARE_ELSEWHERE * int(rows[:, 2].sum()))
    return rows[gathered] if enough and abs(int(commonest)) >= LOWEST_ELSEWHERE else rows[:0]


def _places(rows: Integers) -> tuple[Moment, ...]:
    """Return stretches of neighbouring bins with the longest run in each."""
    moments: list[Moment] = []
    for number in np.unique(rows[:, 0]).tolist():
        longest = float(rows[rows[:, 0] == number, 3].max())
        start = number * BIN_S
        if moments and start <= moments[-1].end_s + 0.5 * BIN_S:
            moments[-1] = Moment(moments[-1].start_s, start + BIN_S, max(moments[-1].value, longest))
        else:
            moments.append(Moment(start, start + BIN_S, longest))
    return tuple(sorted(moments, key=lambda moment: (-moment.value, moment.start_s))[:MOST_PLACES])


def clipping_of(scans: Sequence[ChannelScan]) -> Clipping:
    """Return the clipping from the scans of the channels."""
    extremes = ([int(scan.state[place]) for scan in scans] for place in (HIGHEST, LOWEST))
    return find_clipping([scan.rows(scan.flat, 4) for scan in scans], *extremes)


def find_clipping(tops: list[Integers], highest: list[int], lowest: list[int]) -> Clipping:
    """Return the clipping in the flat tops of each channel.

    Parameters
    ----------
    tops
        Per channel rows of (bin of 100 ms, level in 16-bit steps, count, longest run).
    highest, lowest
        Per channel the extremes in steps of 2**-23.
    """
    cut: list[Integers] = [np.zeros((0, 4), np.int64)]
    for rows, high, low in zip(tops, highest, lowest, strict=True):
        cut.append(_cut_rows(rows[rows[:, 1] > 0], round(high / 256.0)))
        cut.append(_cut_rows(rows[rows[:, 1] < 0], round(low / 256.0)))
    every = np.concatenate(cut)
    if every.size == 0:
        return Clipping(0, 0, (), None)
    level = float(np.abs(every[:, 1]).max()) / STEPS
    return Clipping(int(every[:, 2].sum()), int(every[:, 3].max()), _places(every), float(20.0 * np.log10(level)))
