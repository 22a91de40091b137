"""Moves a sound between left and right.

By changing the level difference of its channels.
"""

import numpy as np

from features.sound.signal import Signal


def pan_gains(gain_db: float) -> tuple[float, float]:
    """Return the linear gains of left and right.

    ``right / left = 10 ** (gain_db / 20)`` and ``left ** 2 + right ** 2 = 2``.

    Sine-cosine law, scaled so that the centre is 1 (textbook constant-power panning; far to a side one channel rises by 3.01 dB).

    Examples
    --------
    >>> [round(gain, 3) for gain in pan_gains(6.0)]
    [0.634, 1.264]
    """
    ratio = 10 ** (gain_db / 20)
    left = float(np.sqrt(2 / (1 + ratio * ratio)))
    return left, ratio * left


def pan(signal: Signal, gain_db: float) -> Signal:
    """Pan a sound by a level difference.

    The right channel rises over the left by ``gain_db`` (negative: move to the left); mono becomes stereo.

    What is equally strong on both sides keeps its power exactly; what leans to one side already gains or loses up to 3 dB, as with
    any balance control, since the gains know nothing of the sound (so pieces of a song come out as the whole does). 0 dB returns the
    same samples.

    Examples
    --------
    >>> moved = pan(Signal(np.ones((1, 1), np.float32), 48000), -6.0)
    >>> moved.samples.round(3).tolist()
    [[1.2640000581741333], [0.6340000033378601]]
    """
    if gain_db == 0.0:
        return signal
    gains = np.array(pan_gains(gain_db), np.float32)[:, None]
    return Signal(signal.samples * gains, signal.rate_hz)
