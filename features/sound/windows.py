"""Windows over a row of values.

Moving means, and the shortest run that holds most of a sum.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def moving_mean(values: Floats | NDArray[np.float32], width: int, at: NDArray[np.intp] | None = None) -> Floats:
    """Return the mean of the values around each place.

    Parameters
    ----------
    values
        Shape ``(places, ...)``; the mean is along the first axis.
    width
        Number of values in a window; windows are cut at both ends.
    at
        Places to look at; all of them when not given.

    Examples
    --------
    >>> moving_mean(np.array([0.0, 3.0, 6.0, 9.0]), 3).tolist()
    [1.5, 3.0, 6.0, 7.5]
    """
    count = len(values)
    centre = np.arange(count) if at is None else at
    sums = np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0, dtype=np.float64)])
    low = np.clip(centre - width // 2, 0, count)
    high = np.clip(centre - width // 2 + width, 0, count)
    shape = (-1,) + (1,) * (values.ndim - 1)
    means: Floats = (sums[high] - sums[low]) / np.maximum(high - low, 1).reshape(shape)
    return means


def shortest_run(values: Floats, share: float) -> tuple[int, int]:
    """Return the shortest run that holds a share.

    Its first and past-the-last place; the share is of the sum.
    The fullest of equally short runs is taken, the first of equally full ones.

    Examples
    --------
    >>> shortest_run(np.array([1.0, 0.0, 4.0, 4.0, 1.0]), 0.7)
    (2, 4)
    """
    total = np.concatenate([np.zeros(1), np.cumsum(values)])
    needed = share * total[-1] * (1 - 1e-12)
    ends = np.searchsorted(total, total[:-1] + needed)
    reached = ends <= len(values)
    if not reached.any():
        return 0, len(values)
    width = max(int((ends - np.arange(len(values)))[reached].min()), 1)
    first = int(np.argmax(total[width:] - total[:-width]))
    return first, first + width
