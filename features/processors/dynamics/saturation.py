"""A soft curve that rounds peaks, adding odd harmonics.

``y = tanh(k x) / k`` with ``k = 10 ** (drive / 20) - 1``: soft sounds keep their level, 0 dB is no change at all, and the third
harmonic grows with ``k^2 A^2 / 12``. Run at four times the rate (`features.processors.dynamics.curves`).
"""

import numpy as np

from features.processors.dynamics.curves import Singles, shaped
from features.sound.signal import Signal


def saturate(signal: Signal, drive_db: float) -> Signal:
    """Saturate a signal.

    ``drive_db`` of 0 returns the same samples, 6 dB takes a peak at full scale down by 2.3 dB.

    Examples
    --------
    >>> tone = np.sin(2 * np.pi * 100 * np.arange(4800) / 48000).astype(np.float32)[None]
    >>> round(20 * float(np.log10(saturate(Signal(tone, 48000), 6.0).samples.max())), 1)
    -2.3
    """
    if drive_db < 0.0:
        raise ValueError(f"saturation of {drive_db:.1f} dB cannot be done; take 0 dB or more")
    k = np.float32(10 ** (drive_db / 20) - 1)
    if k == 0.0:
        return signal

    def curve(x: Singles) -> Singles:
        bent: Singles = np.tanh(k * x) / k
        return bent

    return Signal(shaped(signal.samples, curve), signal.rate_hz)
