"""How a file begins and ends.

A cut-off start or tail.
"""

import numpy as np

from features.sound.signal import Samples

HEAD_S, TAIL_S = 0.1, 0.06
BELOW_SONG_DB = 50.0
TAIL_DBFS = -60.0
LAST_S, ENDING_S, STOP_S = 0.05, 0.02, 0.001
DIED_DB = 45.0  # under the song in its last millisecond: it has died away,
FADED_DB = 16.0  # and under its last 20 ms: a fade that ends, however short
FIRST_JUMP = 0.35  # of the RMS of what follows: the wave does not begin near zero


class Ends:
    """Keeps both ends of a stream.

    The first 100 ms and the last 60 ms.
    """

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare for ``rate_hz``."""
        self._head_size, self._tail_size = max(round(HEAD_S * rate_hz), 1), max(round(TAIL_S * rate_hz), 1)
        self.head: Samples = np.zeros((channels, 0), np.float32)
        self.tail: Samples = np.zeros((channels, 0), np.float32)

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        missing = self._head_size - self.head.shape[1]
        if missing > 0:
            self.head = np.concatenate([self.head, block[:, :missing]], axis=1)
        self.tail = np.concatenate([self.tail, block[:, -self._tail_size :]], axis=1)[:, -self._tail_size :].copy()


def _level_db(wave: Samples) -> float:
    """Return the RMS in dBFS of the louder channel, at least -200."""
    if wave.shape[1] == 0:
        return -200.0
    return float(10.0 * np.log10(max(float(np.square(wave, dtype=np.float64).mean(axis=1).max()), 1e-20)))


def head_cut_dbfs(head: Samples, rate_hz: int, song_dbfs: float, offset: Samples) -> float | None:
    """Return the head's level where sound starts mid-wave.

    Of the first 2 ms; else ``None``.
    The very first sample must already stand away from zero: by more than 35 % of the RMS of the 20 ms that follow, and above -50 dB
    relative to the song. A sound trimmed right at its attack starts near zero and passes. A constant offset is no sound: it must
    also stand so without the song's, ``offset`` of shape ``(channels, 1)``, which may have been faded in with it or not, and without its
    own mean.
    """
    first = head[:, : round(0.022 * rate_hz)]
    if head.shape[1] < max(round(0.022 * rate_hz), 3):
        return None
    steady = first.mean(axis=1, keepdims=True)
    levels = [_start_dbfs(sound, rate_hz, song_dbfs) for sound in (first, first - steady, first - offset)]
    return None if None in levels else levels[-1]


def _start_dbfs(first: Samples, rate_hz: int, song_dbfs: float) -> float | None:
    start = first[:, : max(round(0.002 * rate_hz), 2)]
    level = _level_db(start)
    if level < song_dbfs - BELOW_SONG_DB or level < TAIL_DBFS:
        return None
    size = np.sqrt(np.square(first[:, start.shape[1] :], dtype=np.float64).mean(axis=1))
    floor = 10.0 ** ((song_dbfs - BELOW_SONG_DB) / 20.0)
    cut = np.abs(first[:, 0]) > np.maximum(FIRST_JUMP * size, floor)
    return level if bool(cut.any()) else None


def tail_cut_dbfs(tail: Samples, rate_hz: int, song_dbfs: float) -> float | None:
    """Return the tail's level where sound stops too soon.

    Of the last 50 ms, before it has died away (-60 dBFS); else ``None``.
    It stops where its last millisecond lies neither 45 dB under the song nor 16 dB under its last 20 ms. A straight fade reaches
    26 dB there, whatever its length; a wave that happens to cross zero does not. A constant offset is no sound, but may have been faded
    with it: both are looked at.
    """
    last = tail[:, -round(LAST_S * rate_hz) :]
    steady = last.mean(axis=1, keepdims=True) if last.shape[1] else 0.0
    level = _level_db(last - steady)
    for sound in (last, last - steady):
        ending, stop = (_level_db(sound[:, -max(round(seconds * rate_hz), 1) :]) for seconds in (ENDING_S, STOP_S))
        if ending <= TAIL_DBFS or stop <= max(song_dbfs - DIED_DB, ending - FADED_DB):
            return None
    return level if level > TAIL_DBFS else None
