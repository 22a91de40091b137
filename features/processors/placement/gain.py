"""Gain: louder or softer, nothing else."""

import numpy as np

from features.sound.signal import Signal


def gain(signal: Signal, gain_db: float) -> Signal:
    """Return ``signal`` times ``10 ** (gain_db / 20)``.

    0 dB returns the same samples.

    Examples
    --------
    >>> round(float(gain(Signal(np.ones((1, 1), np.float32), 48000), -6.0).samples[0, 0]), 3)
    0.501
    """
    if gain_db == 0.0:
        return signal
    return Signal(signal.samples * np.float32(10 ** (gain_db / 20)), signal.rate_hz)
