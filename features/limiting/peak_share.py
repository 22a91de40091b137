"""What the peaks above a ceiling are made of.

It is told by octave band.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from features.records.outlook import PeakShare
from features.sound import fourier
from features.sound.signal import Samples

EDGES_HZ = (0.0, 20.0, 60.0, 120.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 20000.0)
FRAME_S = 0.37  # 2.7 Hz between bins


def peak_shares(samples: Samples, rate_hz: int, ceiling: float) -> tuple[PeakShare, ...]:
    """Return each band's share in the samples above ``ceiling``.

    Empty when none is above it.

    Parameters
    ----------
    samples
        Shape ``(channels, frames)``.
    rate_hz
        Sampling rate in Hz.
    ceiling
        Linear.

    Notes
    -----
    ``share_b = sum x_b sign(x) / sum |x|`` over the samples with ``|x| > ceiling``, ``x_b`` the signal in band ``b`` without phase shift;
    shares of all bands sum to 1. With ``s = sign(x)`` there and 0 elsewhere, ``sum x_b s`` is the sum of ``Re(X conj(S))``
    over the band's bins (Parseval), so no band has to be filtered out. The first band, below 20 Hz, is offset and rumble; what lies above
    20 kHz counts to the last; a band that works against the peaks counts as 0.

    Examples
    --------
    >>> wave = np.sin(2 * np.pi * 100 * np.arange(8000) / 8000).astype(np.float32)[None]
    >>> [(band.low_hz, round(band.share, 2)) for band in peak_shares(wave, 8000, 0.9) if band.share > 0.1]
    [(60.0, 1.0)]
    """
    size = 1 << round(np.log2(FRAME_S * rate_hz))
    window = (np.sin(np.pi * (np.arange(size) + 0.5) / size) ** 2).astype(np.float32)
    half = size // 2
    padded = np.pad(samples, ((0, 0), (half, size)))  # so that the windows add up to 1 everywhere
    above = np.where(np.abs(padded) > ceiling, np.sign(padded), np.float32(0.0)).astype(np.float32)
    cross = np.zeros(half + 1)
    for wave, signs in zip(padded, above, strict=True):
        for start in range(0, wave.size - size + 1, half):
            part = signs[start : start + size]
            if part.any():
                spectrum = fourier.rfft(wave[start : start + size] * window) * np.conj(fourier.rfft(part))
                cross += spectrum.real
    cross[1:-1] *= 2
    return _shares(cross, rate_hz, size)


def _shares(cross: NDArray[np.float64], rate_hz: int, size: int) -> tuple[PeakShare, ...]:
    edges = [edge for edge in EDGES_HZ if edge < rate_hz / 2] + ([rate_hz / 2] if rate_hz / 2 < EDGES_HZ[-1] else [])
    limits = [0, *(round(edge * size / rate_hz) for edge in edges[1:-1]), cross.size]
    sums = np.array([max(cross[low:high].sum(), 0.0) for low, high in pairwise(limits)])
    if sums.sum() <= 0.0:
        return ()
    shares = sums / sums.sum()
    return tuple(PeakShare(low, high, float(share)) for (low, high), share in zip(pairwise(edges), shares, strict=True))
