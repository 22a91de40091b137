"""Noise between sounds.

The quietest steady half second of a song, and what is left of it between its lines.
"""

import numpy as np
from numpy.typing import NDArray

from features.sound.signal import Samples

Floats = NDArray[np.float64]

PIECE_S, PIECES = 0.1, 5
STEADY_DB = 3.0
DIGITAL_SILENCE = 1e-13
BELOW_SONG_DB = 30.0
SEGMENT_S = 0.25
AROUND_BINS = 12
LOWEST_HZ = 20.0


class QuietestHalf:
    """Keeps the quietest steady half second of a stream.

    Hop 0.1 s, apart from digital silence; a dying sound is not steady.
    """

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare for ``rate_hz``."""
        self.rate_hz = rate_hz
        self._piece = max(round(PIECE_S * rate_hz), 1)
        self._rest: Samples = np.zeros((channels, 0), np.float32)
        self._last: list[Samples] = []
        self._powers: list[float] = []
        self.power = np.inf
        self.window: Samples = np.zeros((channels, 0), np.float32)

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        joined = np.concatenate([self._rest, block], axis=1)
        count = joined.shape[1] // self._piece
        for start in range(0, count * self._piece, self._piece):
            self._take(joined[:, start : start + self._piece])
        self._rest = joined[:, count * self._piece :].copy()

    def _take(self, piece: Samples) -> None:
        self._last = [*self._last[1 - PIECES :], piece.copy()]
        self._powers = [*self._powers[1 - PIECES :], float(np.square(piece, dtype=np.float64).mean())]
        least, most, power = min(self._powers), max(self._powers), sum(self._powers) / PIECES
        steady = least > DIGITAL_SILENCE and most <= least * 10.0 ** (STEADY_DB / 10.0)
        if len(self._powers) == PIECES and steady and power < self.power:
            self.power, self.window = power, np.concatenate(self._last, axis=1)


def noise_floor_dbfs(quietest: QuietestHalf, song_dbfs: float) -> tuple[float | None, str]:
    """Return the noise level of the quietest half second.

    Or ``None`` and the reason.

    Parameters
    ----------
    quietest
        Fed with the whole song.
    song_dbfs
        RMS of the song; a pause lies 30 dB or more below it.

    Notes
    -----
    What sounds there may be a soft note or a tail, whose energy stands in lines. Noise fills the spectrum between the lines: the power of
    each bin is replaced by the median of the bins around it, and the result is summed above 20 Hz. The median of the mean of ``k``
    exponential values lies below their mean by the factor (1 - 1/(9k))^3 (Wilson-Hilferty), which is made good. Own definition, no
    published source.
    """
    if quietest.window.shape[1] == 0:
        return None, "no steady pause between sounds"
    if 10.0 * np.log10(quietest.power) >= song_dbfs - BELOW_SONG_DB:
        return None, "no steady pause between sounds"
    return float(10.0 * np.log10(max(_between_lines(quietest.window, quietest.rate_hz), 1e-20))), ""


def _between_lines(window: Samples, rate_hz: int) -> float:
    """Return the mean square of what fills the spectrum between its lines, channels averaged."""
    size = max(round(SEGMENT_S * rate_hz), 8)
    starts = range(0, window.shape[1] - size + 1, size // 2)
    taper = np.hanning(size)
    segments = np.stack([window[:, start : start + size] * taper for start in starts])
    power: Floats = np.square(np.abs(np.fft.rfft(segments))).mean(axis=(0, 1)) * 2.0 / (size * np.square(taper).sum())
    first = round(LOWEST_HZ * size / rate_hz)
    padded = np.pad(power[first:], AROUND_BINS, mode="reflect")
    smooth = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * AROUND_BINS + 1), axis=1)
    values = 0.85 * len(starts)  # three segments that overlap by half count as about 2.5 (Welch 1967)
    return float(smooth.sum() / (1.0 - 1.0 / (9.0 * values)) ** 3)
