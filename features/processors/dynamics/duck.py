"""A band of one sound that dips while another plays.

The band is that of `features.processors.dynamics.dynamic_band`: ``y = x + (g - 1) B x``, at its deepest exactly the bell of
`features.processors.equalisers.eq`; only ``g`` moves, so nothing clicks. ``g`` follows the key instead of the sound: the dip wanted is by
how many dB the key's loudest channel (peak) stands above a threshold, at most the depth, smoothed as in
`features.processors.dynamics.compressor`. All channels dip alike.
"""

import numpy as np

from features.processors.dynamics.compressor import Curve, GainReduction, Timing, linked_level
from features.processors.equalisers.filters import Filter, bilinear
from features.sound.signal import Samples, Signal

THRESHOLD_DBFS = -40.0
ALL_OF_IT = 1e9  # ratio: a dB of dip for each dB of key above the threshold


class Duck:
    """The keyed dip with memory, block by block.

    Parameters
    ----------
    rate_hz, channels
        Of the sound; the key may have another number of channels.
    bell
        Frequency in Hz, depth in dB (0 or below), Q of the dip at its deepest.
    timing
        Attack and release (63 %).
    threshold_dbfs
        From here on the key pushes the band down; it is fully down when the key is the depth above it.
    """

    def __init__(
        self, rate_hz: int, channels: int, bell: tuple[float, float, float], timing: Timing, threshold_dbfs: float = THRESHOLD_DBFS
    ) -> None:
        frequency_hz, depth_db, q = bell
        if depth_db > 0.0:
            raise ValueError(f"a dip goes down, so {depth_db:+.1f} dB cannot be done; take 0 dB or less")
        width = 1 / (10 ** (depth_db / 40) * q)
        self._band = Filter(bilinear((0.0, width, 0.0), (1.0, width, 1.0), frequency_hz, rate_hz)[None], channels)
        self._follower = GainReduction(Curve(threshold_dbfs, ALL_OF_IT, 0.0), timing, rate_hz)
        self._most = np.float32(10 ** ((threshold_dbfs - depth_db) / 20))

    def process(self, block: Samples, key: Samples) -> Samples:
        """Return the next block, shape ``(channels, n)``.

        ``key`` is the same stretch of the key, silence where it has ended.
        """
        level = np.zeros(block.shape[1], np.float32)
        shared = min(key.shape[1], level.size)
        if key.shape[0]:
            level[:shared] = np.minimum(linked_level(key[:, :shared]), self._most)
        change = 10 ** (-self._follower.follow(level) / np.float32(20)) - np.float32(1)
        return np.asarray(block + change * self._band.process(block), np.float32)


def duck(
    sound: Signal,
    key: Signal,
    frequency_hz: float,
    q: float,
    depth_db: float,
    attack_ms: float,
    release_ms: float,
    threshold_dbfs: float = THRESHOLD_DBFS,
) -> Signal:
    """Dip a band of a sound while its key plays.

    By up to ``depth_db`` (0 or below) around ``frequency_hz``, while ``key`` is above ``threshold_dbfs``.

    0 dB, and a silent key, return the same samples.

    Examples
    --------
    >>> tone = Signal(0.5 * np.sin(2 * np.pi * 60 * np.arange(48000) / 48000).astype(np.float32)[None], 48000)
    >>> knocks = Signal(np.ones((1, 48000), np.float32), 48000)
    >>> float(np.abs(duck(tone, knocks, 60.0, 1.0, -6.0, 5.0, 120.0).samples[0, 24000:]).max().round(2))
    0.25
    """
    if sound.rate_hz != key.rate_hz:
        raise ValueError(f"the sound has {sound.rate_hz} Hz and its key {key.rate_hz} Hz; bring both to one rate first")
    if depth_db == 0.0:
        return sound
    timing = Timing(attack_ms, release_ms)
    ducked = Duck(sound.rate_hz, sound.channels, (frequency_hz, depth_db, q), timing, threshold_dbfs).process(sound.samples, key.samples)
    return Signal(ducked, sound.rate_hz)
