"""Mono below a frequency.

The side signal loses its low end.
"""

import numpy as np

from features.processors.equalisers.eq import high_pass_sections
from features.processors.equalisers.filters import Filter
from features.sound.signal import Samples, Signal

ORDER = 2


class MonoBelow:
    """The filter with memory, block by block, for two channels."""

    def __init__(self, rate_hz: int, frequency_hz: float, order: int = ORDER) -> None:
        """Prepare a Butterworth high-pass for the side."""
        self._high_pass = Filter(high_pass_sections(rate_hz, frequency_hz, order), 1)

    def process(self, block: Samples) -> Samples:
        """Return the next block, shape ``(2, n)``."""
        side = (block[0] - block[1]) * np.float32(0.5)
        change = self._high_pass.process(side[None])[0] - side
        return np.stack((block[0] + change, block[1] - change))


def mono_below(signal: Signal, frequency_hz: float, order: int = ORDER) -> Signal:
    """High-pass the side of a sound at ``frequency_hz``.

    The side is ``(L - R) / 2``, the filter a Butterworth; the mid stays as it is.

    0 Hz, and mono, return the same samples.

    Examples
    --------
    >>> same = np.random.default_rng(1).standard_normal((1, 100)).astype(np.float32).repeat(2, axis=0)
    >>> bool(np.array_equal(mono_below(Signal(same, 48000), 120.0).samples, same))
    True
    """
    if frequency_hz <= 0.0 or signal.channels == 1:
        return signal
    return Signal(MonoBelow(signal.rate_hz, frequency_hz, order).process(signal.samples), signal.rate_hz)
