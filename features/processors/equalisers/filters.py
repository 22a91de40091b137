"""Filters of first and second order.

Made from analogue prototypes by the bilinear transform.

A prototype is a fraction of polynomials in ``s``, scaled so that the filter's frequency is ``s = j``. With
``s = (1 - 1/z) / (K (1 + 1/z))``, ``K = tan(pi f / rate)``, that frequency comes out exactly (textbook bilinear transform with
pre-warping).
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from features.sound.compiled import kernel
from features.sound.signal import Samples

Floats = NDArray[np.float64]

HIGHEST_SHARE = 0.49  # of the rate: a filter above it is moved down to it


def bilinear(numerator: Sequence[float], denominator: Sequence[float], frequency_hz: float, rate_hz: float) -> Floats:
    """Return the digital filter of an analogue prototype.

    As ``b0 b1 b2 a1 a2`` (``a0`` is 1).

    Parameters
    ----------
    numerator, denominator
        Coefficients of ``1, s`` or of ``1, s, s^2``; both of one length.
    frequency_hz
        Where ``s = j`` lands.
    rate_hz
        Sampling rate in Hz.

    Examples
    --------
    >>> bilinear((1.0, 0.0), (1.0, 1.0), 12000.0, 48000.0).round(3).tolist()  # first-order low-pass at a quarter of the rate
    [0.5, 0.5, 0.0, -0.0, 0.0]
    """
    k = float(np.tan(np.pi * min(frequency_hz / rate_hz, HIGHEST_SHARE)))
    rows = np.zeros((2, 3))
    for row, polynomial in zip(rows, (numerator, denominator), strict=True):
        if len(polynomial) == 2:  # kept apart: as second order it would hide a pole on a zero at half the rate
            constant, linear = polynomial
            row[:2] = constant * k + linear, constant * k - linear
        else:
            constant, linear, square = polynomial
            row[:] = square + linear * k + constant * k * k, 2 * (constant * k * k - square), square - linear * k + constant * k * k
    rows /= rows[1, 0]
    return np.array([*rows[0], rows[1, 1], rows[1, 2]])


@kernel
def _run(samples: Samples, sections: Floats, state: Floats, out: Samples) -> None:
    for c in range(samples.shape[0]):
        for number in range(sections.shape[0]):
            b0, b1, b2, a1, a2 = sections[number]
            s1, s2 = state[c, number]
            for n in range(samples.shape[1]):
                x = np.float64(samples[c, n]) if number == 0 else np.float64(out[c, n])
                y = b0 * x + s1
                s1 = b1 * x - a1 * y + s2
                s2 = b2 * x - a2 * y
                out[c, n] = y
            if abs(s1) + abs(s2) < 1e-30:  # silence: fading memory would turn into numbers so small that they are slow
                s1 = s2 = 0.0
            state[c, number, 0], state[c, number, 1] = s1, s2


class Filter:
    """A row of sections with memory.

    Feed it block by block, or once with everything.

    Parameters
    ----------
    sections
        Shape ``(sections, 5)``, from `bilinear`.
    channels
        Number of channels.
    """

    def __init__(self, sections: Floats, channels: int) -> None:
        self._sections = np.ascontiguousarray(sections, np.float64)
        self._state = np.zeros((channels, len(sections), 2))

    def process(self, block: Samples) -> Samples:
        """Return the next block filtered, shape ``(channels, n)``."""
        out = np.empty_like(block)
        _run(np.ascontiguousarray(block), self._sections, self._state, out)
        return out
