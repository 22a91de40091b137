"""What is left of a sound in mono."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from features.sound.bands import bin_cells, erb_bands, overlap
from features.sound.signal import Samples

Floats = NDArray[np.float64]
WINDOW_S = 0.1


def mono_shares(blocks: Iterable[Samples], rate_hz: int) -> Floats:
    """Return each band's power left in mono, 0 to 2.

    Power of ``(L + R) / 2`` over the mean power of L and R in bands one Cam wide, over all blocks together; 1 for equal channels, 0.5
    for unrelated ones, 0 where they cancel.

    Examples
    --------
    >>> wave = np.sin(np.arange(8192) * 0.1).astype(np.float32)
    >>> float(mono_shares([np.stack([wave, -wave])], 44100)[10].round(3))
    0.0
    """
    size = int(fft.next_fast_len(round(WINDOW_S * rate_hz), real=True))
    window = np.hanning(size).astype(np.float32)
    mono, both = np.zeros(size // 2 + 1), np.zeros(size // 2 + 1)
    for block in blocks:
        for start in range(0, block.shape[1] - size + 1, size // 2):
            left, right = (fft.rfft(channel[start : start + size] * window, workers=1) for channel in (block[0], block[-1]))
            mono += np.abs(0.5 * (left + right)) ** 2
            both += 0.5 * (np.abs(left) ** 2 + np.abs(right) ** 2)
    shares = overlap(*bin_cells(rate_hz, size), erb_bands(rate_hz))
    whole = both @ shares
    left_over: Floats = np.divide(mono @ shares, whole, out=np.ones(len(whole)), where=whole > 0.0)
    return left_over
