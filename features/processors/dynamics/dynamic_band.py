"""A cut that comes only while its band is loud.

Louder than a threshold.

``y = x + (g - 1) B x`` with ``B = (s/Q') / (s^2 + s/Q' + 1)``, a band-pass of gain 1 at its frequency. For a fixed ``g`` this is a
bell of gain ``g``; with ``Q' = sqrt(g_most) Q`` it is at its deepest exactly the bell of `features.processors.equalisers.eq` with that
``Q``. Only ``g`` moves, no coefficient does, so nothing clicks. ``g`` follows the level of the band through the compressor's detector.
"""

import numpy as np

from features.processors.dynamics.compressor import Curve, GainReduction, Timing, linked_level
from features.processors.equalisers.filters import Filter, bilinear
from features.sound.signal import Samples, Signal

RATIO = 4.0
KNEE_DB = 6.0
TIMING = Timing(attack_ms=10.0, release_ms=120.0)  # common practice, no published source


class DynamicBell:
    """The dynamic bell with memory, block by block.

    Parameters
    ----------
    rate_hz, channels
        Of the sound.
    frequency_hz, gain_db, q
        The bell at its deepest; ``gain_db`` is 0 or below.
    curve, timing
        Threshold (level of the band's loudest channel, peak) and ratio by which the cut grows; attack and release.
    """

    def __init__(self, rate_hz: int, channels: int, bell: tuple[float, float, float], curve: Curve, timing: Timing = TIMING) -> None:
        frequency_hz, gain_db, q = bell
        if gain_db > 0.0:
            raise ValueError(f"a dynamic bell only cuts, so {gain_db:+.1f} dB cannot be done; take 0 dB or less")
        width = 1 / (10 ** (gain_db / 40) * q)
        self._band = Filter(bilinear((0.0, width, 0.0), (1.0, width, 1.0), frequency_hz, rate_hz)[None], channels)
        self._most_db = np.float32(-gain_db)
        self._follower = GainReduction(curve, timing, rate_hz)

    def process(self, block: Samples) -> Samples:
        """Return the next block, shape ``(channels, n)``."""
        band = self._band.process(block)
        cut_db = np.minimum(self._follower.follow(linked_level(band)), self._most_db)
        change = 10 ** (-cut_db / np.float32(20)) - np.float32(1)
        return np.asarray(block + change * band, np.float32)


def dynamic_bell(
    signal: Signal, frequency_hz: float, gain_db: float, q: float, threshold_dbfs: float, ratio: float = RATIO, timing: Timing = TIMING
) -> Signal:
    """Cut a band only while it is loud.

    By at most ``gain_db`` (0 or below) around ``frequency_hz``, while that band is above ``threshold_dbfs``.

    0 dB returns the same samples.

    Examples
    --------
    >>> tone = 0.5 * np.sin(2 * np.pi * 300 * np.arange(48000) / 48000).astype(np.float32)[None]
    >>> done = dynamic_bell(Signal(tone, 48000), 300.0, -6.0, 1.0, threshold_dbfs=-40.0)
    >>> float(np.abs(done.samples[0, 24000:]).max().round(2))
    0.25
    """
    if gain_db == 0.0:
        return signal
    bell = DynamicBell(signal.rate_hz, signal.channels, (frequency_hz, gain_db, q), Curve(threshold_dbfs, ratio, KNEE_DB), timing)
    return Signal(bell.process(signal.samples), signal.rate_hz)
