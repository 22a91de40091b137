"""K-weighting at any rate, and energies of short steps.

ITU-R BS.1770-5, Annex 1; energies of the weighted sound.
"""

from math import pi, tan

import numpy as np
from numpy.typing import NDArray

from features.sound.compiled import kernel

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

STEPS_PER_S = 100
STATE_SIZE = 8  # two biquads of two values, two channels

# The analogue prototype from which the 48 kHz table of the standard follows by the bilinear transform.
SHELF_HZ, SHELF_DB, SHELF_Q, SHELF_SHAPE = 1681.974450955533, 3.999843853973347, 0.7071752369554196, 0.4996667741545416
HIGH_PASS_HZ, HIGH_PASS_Q = 38.13547087602444, 0.5003270373238773


def k_weighting(rate_hz: float) -> Floats:
    """Return the coefficients of both stages, shape ``(2, 5)``.

    ``b0 b1 b2 a1 a2`` (``a0`` is 1).

    Parameters
    ----------
    rate_hz
        Sampling rate in Hz.

    Notes
    -----
    ITU-R BS.1770-5, Annex 1, tables 1 and 2 give 48 kHz only. For other rates the analogue prototype behind those tables
    is transformed again with ``K = tan(pi f / rate)``; common practice, not in the standard.

    Examples
    --------
    >>> k_weighting(48000.0).round(5).tolist()
    [[1.53512, -2.6917, 1.19839, -1.69066, 0.73248], [1.0, -2.0, 1.0, -1.99005, 0.99007]]
    """
    k = tan(pi * SHELF_HZ / rate_hz)
    high = 10 ** (SHELF_DB / 20)
    middle = high**SHELF_SHAPE
    a0 = 1 + k / SHELF_Q + k * k
    shelf = [
        (high + middle * k / SHELF_Q + k * k) / a0,
        2 * (k * k - high) / a0,
        (high - middle * k / SHELF_Q + k * k) / a0,
        2 * (k * k - 1) / a0,
        (1 - k / SHELF_Q + k * k) / a0,
    ]
    k = tan(pi * HIGH_PASS_HZ / rate_hz)
    a0 = 1 + k / HIGH_PASS_Q + k * k
    return np.array([shelf, [1.0, -2.0, 1.0, 2 * (k * k - 1) / a0, (1 - k / HIGH_PASS_Q + k * k) / a0]])


def step_edges(rate_hz: int, first: int, last: int) -> NDArray[np.int64]:
    """Return the frames at which 10 ms steps start.

    Steps ``first`` to ``last``: ``round(k rate / 100)``, halves up.

    Examples
    --------
    >>> step_edges(11025, 0, 5).tolist()
    [0, 110, 221, 331, 441, 551]
    """
    return (2 * np.arange(first, last + 1, dtype=np.int64) * rate_hz + STEPS_PER_S) // (2 * STEPS_PER_S)


@kernel
def energies(left: Singles, right: Singles, edges: NDArray[np.int64], filters: Floats, state: Floats) -> Floats:
    """Return mean products per step, shape ``(6, steps)``.

    K-weighted L L, R R, L R, and the same unweighted.

    Parameters
    ----------
    left, right
        Channels; the same array twice for mono.
    edges
        Start of each step and end of the last, shape ``(steps + 1,)``.
    filters
        From `k_weighting`.
    state
        Filter memory, shape ``(8,)``, float64; changed in place.
    """
    steps = len(edges) - 1
    means = np.zeros((6, steps))
    b0, b1, b2, a1, a2 = filters[0, 0], filters[0, 1], filters[0, 2], filters[0, 3], filters[0, 4]
    c1, c2 = filters[1, 3], filters[1, 4]
    s0, s1, s2, s3, t0, t1, t2, t3 = state
    for step in range(steps):
        kll = krr = klr = ll = rr = lr = 0.0
        for i in range(edges[step], edges[step + 1]):
            x, y = np.float64(left[i]), np.float64(right[i])
            v = b0 * x + s0
            s0 = b1 * x - a1 * v + s1
            s1 = b2 * x - a2 * v
            w = b0 * y + t0
            t0 = b1 * y - a1 * w + t1
            t1 = b2 * y - a2 * w
            p = v + s2
            s2 = -2.0 * v - c1 * p + s3
            s3 = v - c2 * p
            q = w + t2
            t2 = -2.0 * w - c1 * q + t3
            t3 = w - c2 * q
            kll += p * p
            krr += q * q
            klr += p * q
            ll += x * x
            rr += y * y
            lr += x * y
        count = max(edges[step + 1] - edges[step], 1)
        means[0, step], means[1, step], means[2, step] = kll / count, krr / count, klr / count
        means[3, step], means[4, step], means[5, step] = ll / count, rr / count, lr / count
        if kll + krr < 1e-60:  # digital silence: without this the memory fades into numbers so small that they are slow
            s0 = s1 = s2 = s3 = t0 = t1 = t2 = t3 = 0.0
    state[:] = np.array([s0, s1, s2, s3, t0, t1, t2, t3])
    return means
