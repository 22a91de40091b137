"""The wave between its samples.

A sinc under a Kaiser window.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def windowed_sinc(distance: NDArray[np.floating[Any]], reach: float, beta: float) -> Floats:
    """Return the weight of samples by their distance.

    Parameters
    ----------
    distance
        In samples, any shape.
    reach
        Where the Kaiser window ends, in samples.
    beta
        Of the Kaiser window (Kaiser and Schafer 1980).

    Examples
    --------
    >>> windowed_sinc(np.array([0.0, 1.0, 0.5]), 16.0, 5.0).round(3).tolist()
    [1.0, 0.0, 0.635]
    """
    window = np.i0(beta * np.sqrt(np.maximum(1 - (distance / reach) ** 2, 0.0))) / np.i0(beta)
    weights: Floats = np.sinc(distance) * window
    return weights


def interpolation_taps(phases: int, taps: int, beta: float) -> NDArray[np.float32]:
    """Return the filters that give the values between two samples.

    Shape ``(phases - 1, taps)``.
    Row ``p`` gives the value at ``n + (p + 1) / phases`` from the samples ``n - taps/2 + 1 .. n + taps/2``; each is scaled to a sum of 1.

    Examples
    --------
    >>> interpolation_taps(4, 24, 8.0).shape
    (3, 24)
    """
    offsets = np.arange(1, phases)[:, None] / phases
    rows = windowed_sinc(offsets - (np.arange(taps) - taps // 2 + 1)[None, :], taps / 2, beta)
    unit: NDArray[np.float32] = (rows / rows.sum(axis=1, keepdims=True)).astype(np.float32)
    return unit
