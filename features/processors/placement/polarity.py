"""Polarity: turn channels upside down."""

from features.sound.signal import Signal


def invert(signal: Signal, channels: tuple[int, ...]) -> Signal:
    """Invert the polarity of some channels.

    Those with these numbers (0 = left); none returns the same samples.

    Examples
    --------
    >>> import numpy as np
    >>> invert(Signal(np.ones((2, 1), np.float32), 48000), (1,)).samples.tolist()
    [[1.0], [-1.0]]
    """
    if not channels:
        return signal
    samples = signal.samples.copy()
    samples[list(channels)] *= -1
    return Signal(samples, signal.rate_hz)
