"""Mid and side.

Gain on what both channels share, or on what they differ in.
"""

import numpy as np

from features.sound.signal import Signal


def side_gain(signal: Signal, gain_db: float) -> Signal:
    """Raise or lower the side of a sound.

    ``S = (L - R) / 2``: ``L + (g - 1) S``, ``R - (g - 1) S``. 0 dB, and mono, return the same samples.

    Minus infinity makes the sound mono.

    Examples
    --------
    >>> side_gain(Signal(np.array([[1.0], [0.0]], np.float32), 48000), float("-inf")).samples.tolist()
    [[0.5], [0.5]]
    """
    if gain_db == 0.0 or signal.channels == 1:
        return signal
    left, right = signal.samples
    change = np.float32(10 ** (gain_db / 20) - 1) * (left - right) * np.float32(0.5)
    return Signal(np.stack((left + change, right - change)), signal.rate_hz)


def mid_gain(signal: Signal, gain_db: float) -> Signal:
    """Raise or lower the mid of a sound.

    ``M = (L + R) / 2``: ``L + (g - 1) M``, ``R + (g - 1) M``; mono is all mid. 0 dB returns the same samples.
    """
    if gain_db == 0.0:
        return signal
    middle = signal.samples.mean(axis=0, dtype=np.float32)
    return Signal(signal.samples + np.float32(10 ** (gain_db / 20) - 1) * middle, signal.rate_hz)
