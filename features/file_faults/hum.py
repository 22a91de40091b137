"""Mains hum: steady lines at 50 or 60 Hz.

Their multiples count too: narrow lines that are there in the quietest stretches.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.sound.signal import Samples

Floats = NDArray[np.float64]

SPAN_S, HOP_S = 4, 2
KEPT_SPANS = 12
WANTED_RATE_HZ = 2000
MAINS_HZ = (50.0, 60.0)
HARMONICS = 8
NEAR_HZ, DRIFT_HZ = 0.3, 0.1  # of the first line; more for each further multiple
PROMINENCE_DB, NARROW_DB, SPREAD_DB, AGREE_HZ = 12.0, 12.0, 3.0, 0.06
LEAST_HARMONICS, LEAST_SPANS = 3, 2
QUIET_DB, RIVAL_DB = 10.0, 9.0
PADDING = 4


class QuietSpans:
    """Keeps the quietest 4 s spans of a song.

    Hop 2 s, averaged down to about 2 kHz; memory does not grow with the song.
    """

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare the averaging."""
        self._factor = max(rate_hz // WANTED_RATE_HZ, 1)
        self.rate_hz = rate_hz / self._factor
        self._rest = np.zeros((channels, 0), np.float32)
        self._low = np.zeros((channels, 0), np.float32)
        self._size, self._hop = round(SPAN_S * self.rate_hz), round(HOP_S * self.rate_hz)
        self.spans: list[tuple[float, Samples]] = []

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        joined = np.concatenate([self._rest, block], axis=1)
        count = joined.shape[1] // self._factor
        used = count * self._factor
        low = joined[:, :used].reshape(joined.shape[0], count, self._factor).mean(axis=2)
        self._rest = joined[:, used:].copy()
        self._low = np.concatenate([self._low, low], axis=1)
        while self._low.shape[1] >= self._size:
            self._keep(self._low[:, : self._size].copy())
            self._low = self._low[:, self._hop :]

    def _keep(self, span: Samples) -> None:
        if np.count_nonzero(span) < 0.9 * span.size and np.count_nonzero(span.any(axis=0)) < 0.9 * span.shape[1]:
            return  # partly digital silence
        self.spans.append((float(np.mean(np.square(span, dtype=np.float64))), span))
        self.spans.sort(key=lambda span: span[0])
        del self.spans[KEPT_SPANS:]


@dataclass(frozen=True, slots=True)
class Hum:
    """Mains frequency and the level (RMS) of all its lines."""

    mains_hz: float
    level_dbfs: float


def _spectra(quiet: QuietSpans) -> tuple[Floats, Floats]:
    """Return frequencies and one power spectrum per span within 10 dB of the quietest (a sine's peak is its mean square)."""
    size = quiet.spans[0][1].shape[1]
    window = np.hanning(size)
    padded = PADDING * size
    bound = max(quiet.spans[0][0] * 10.0 ** (QUIET_DB / 10.0), quiet.spans[LEAST_SPANS - 1][0])
    rows = [np.abs(np.fft.rfft(span * window, padded)) ** 2 for level, span in quiet.spans if level <= bound]
    power = np.array([row.mean(axis=0) for row in rows]) * 2.0 / window.sum() ** 2
    return np.asarray(np.fft.rfftfreq(padded, 1.0 / quiet.rate_hz), np.float64), np.asarray(power, np.float64)


def _line(frequency: Floats, power: Floats, wanted_hz: float, near_hz: float) -> tuple[float, float] | None:
    """Return frequency and mean power of a line within ``near_hz``, or ``None``: it is narrow, prominent, alone and steady."""
    step = float(frequency[1])
    typical = np.median(power, axis=0)
    low, high = int(np.ceil((wanted_hz - near_hz) / step)), int((wanted_hz + near_hz) / step)
    at = low + int(typical[low : high + 1].argmax())
    if typical[at] < max(typical[at - 1], typical[at + 1]) or at in (low, high):
        return None
    far = np.concatenate([np.arange(at - round(12 / step), at - round(2 / step)), np.arange(at + round(2 / step), at + round(12 / step))])
    beside = max(typical[at - round(1 / step)], typical[at + round(1 / step)])
    floor = np.median(power[:, far], axis=1)
    heights = 10.0 * np.log10(np.maximum(power[:, at], 1e-20) / np.maximum(floor, 1e-20))
    levels = 10.0 * np.log10(np.maximum(power[:, at], 1e-20))
    narrow = 10.0 * np.log10(max(typical[at], 1e-20) / max(beside, 1e-20)) >= NARROW_DB
    reach, start = round(8 / step), round(1.2 / step)  # a repeated rhythm makes rows of lines, mains do not
    rival = max(typical[at - reach : at - start].max(), typical[at + start : at + reach].max())
    alone = 10.0 * np.log10(max(typical[at], 1e-20) / max(rival, 1e-20)) >= RIVAL_DB
    steady = float(np.median(np.abs(levels - np.median(levels)))) <= SPREAD_DB / 2.0
    prominent = float(np.median(heights)) >= PROMINENCE_DB and np.mean(heights >= PROMINENCE_DB / 2.0) >= 0.75
    return (float(frequency[at]), float(typical[at])) if narrow and alone and steady and prominent else None


def find_hum(quiet: QuietSpans) -> Hum | None:
    """Return the mains hum of a song, or ``None``.

    At least three of the first eight multiples of 50 or 60 Hz must be there, one of the first two among them, and agree on the mains
    frequency to 0.06 Hz: a held bass note stands elsewhere (G1 is 49.0 Hz, B1 61.7 Hz), and a note that happens to fit does not go on
    unchanged through the quietest spans.
    """
    if len(quiet.spans) < LEAST_SPANS:
        return None
    frequency, power = _spectra(quiet)
    best: Hum | None = None
    for mains in MAINS_HZ:
        lines: dict[int, tuple[float, float]] = {}
        for number in range(1, HARMONICS + 1):
            if mains * number + 15.0 < quiet.rate_hz / 2.0:
                line = _line(frequency, power, mains * number, NEAR_HZ + DRIFT_HZ * (number - 1))
                if line is not None:
                    lines[number] = line
        agreed = _agreeing(lines)
        if len(agreed) >= LEAST_HARMONICS and min(agreed) <= 2:
            level = float(10.0 * np.log10(sum(agreed.values())))
            if best is None or level > best.level_dbfs:
                best = Hum(mains, level)
    return best


def _agreeing(lines: dict[int, tuple[float, float]]) -> dict[int, float]:
    """Return the power of the lines whose frequency over their number agrees with the others'."""
    if not lines:
        return {}
    middle = float(np.median([hz / number for number, (hz, _) in lines.items()]))
    return {number: level for number, (hz, level) in lines.items() if abs(hz / number - middle) <= AGREE_HZ}
