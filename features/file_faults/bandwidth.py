"""A wall in the spectrum.

Content that ends all at once below half the sampling rate (discarded or never there).
Natural sound, and the slope of any ordinary filter, falls off step by step: the drop is compared with what the slope just below goes on to.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LOWEST_HZ = 3400.0
HIGHEST_SHARE = 0.9  # of half the rate: above it stand the converters' own filters
NEAR_HZ, FAR_HZ = 300.0, 1300.0
LEAST_WALL_DB = 24.0
RETURN_DB = 6.0
CELL_HZ = 50.0
FLOOR_POWER = 1e-19


@dataclass(frozen=True, slots=True)
class Wall:
    """Where the spectrum ends, and how far it falls.

    The fall is what lies beyond its slope.
    """

    frequency_hz: float
    height_db: float


def _in_cells(frequency_hz: Floats, power: Floats) -> Floats:
    """Return the mean power in 50 Hz cells, in dB; the wall may not hang on single lines."""
    cell = (frequency_hz / CELL_HZ).astype(np.int64)
    total = np.bincount(cell, weights=power)
    count = np.maximum(np.bincount(cell), 1)
    filled = np.maximum(total / count, FLOOR_POWER)
    return np.asarray(10.0 * np.log10(filled), np.float64)


def find_wall(frequency_hz: Floats, power: Floats) -> Wall | None:
    """Return the highest wall of a long-term spectrum.

    ``None`` where it reaches the top or falls off gradually.

    Parameters
    ----------
    frequency_hz, power
        FFT bins from 0 to half the rate: frequency and mean power.

    Notes
    -----
    At each frequency, the median level 300-1300 Hz above is held against the one 300-1300 Hz below, extended by the slope found there
    (never upwards). A wall stands 24 dB or more beyond that, and nothing above it comes back to within half of it.
    """
    level = _in_cells(frequency_hz, power)
    near, far = round(NEAR_HZ / CELL_HZ), round(FAR_HZ / CELL_HZ)
    top = int(HIGHEST_SHARE * frequency_hz[-1] / CELL_HZ) if frequency_hz.size else 0
    best: Wall | None = None
    for at in range(int(LOWEST_HZ / CELL_HZ), min(top, level.size - near - 4)):
        below, above = level[at - far : at - near], level[at + near : at + far]
        earlier = level[at - 2 * far + near : at - far]
        slope = min(float(np.median(below) - np.median(earlier)), 0.0) * 2.0 * 1.6  # the gap is 1.6 times as long, and slopes steepen
        drop = float(np.median(below) + slope - np.median(above))
        rest = float(level[at + near :].max())
        stays_down = rest <= float(np.median(above)) + max(RETURN_DB, 0.5 * drop)
        if drop >= LEAST_WALL_DB and stays_down and (best is None or drop > best.height_db):
            best = Wall((at + 0.5) * CELL_HZ, drop)
    sharp = None if best is None else _sharpened(level, best)
    return None if sharp is None or sharp.frequency_hz > HIGHEST_SHARE * frequency_hz[-1] else sharp


def _sharpened(level: Floats, wall: Wall) -> Wall:
    """Return the wall placed where the level has fallen half way."""
    near, at = round(NEAR_HZ / CELL_HZ), int(wall.frequency_hz / CELL_HZ)
    stretch = level[at - near : at + near + 1]
    middle = 0.5 * float(np.median(level[at - 3 * near : at - near]) + np.median(level[at + near : at + 3 * near]))
    under = np.flatnonzero(stretch < middle)
    return Wall((at - near + int(under[0])) * CELL_HZ, wall.height_db) if under.size else wall
