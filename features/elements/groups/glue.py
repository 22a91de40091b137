"""Thresholds at which a bus compressor glues a group.

Where its needle swings to a stated reduction.

What the needle shows is the highest reduction of each half second; its usual swing is their median, taken where the group plays (windows
whose peak lies within 20 dB of the highest). Compressors of the same attack and release differ in what they smooth:

- the reduction, after the curve, from the peak level (`features.processors.dynamics.compressor`);
- the power, before the curve: ``p[n] = a p[n-1] + (1 - a) x[n] ** 2``, ``a`` the attack's where it rises (RMS detection).

The threshold returned is the one at which both swing to the wanted reduction on average, so that neither is far from it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.processors.dynamics.compressor import Curve, GainReduction, Timing, alpha, linked_level
from features.sound.compiled import kernel
from features.sound.decibels import powers_to_db
from features.sound.signal import Signal

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

GLUE = Timing(attack_ms=30.0, release_ms=100.0)  # common practice for buses, no published source
WANTED_DB = 2.0
KNEE_DB = 6.0
NEEDLE_S = 0.5
PLAYING_DB = 20.0
COARSE_HZ = 11000.0  # levels are looked at this often: every fourth sample of a 44.1 kHz song has the same distribution
SILENT = 1e-6
CLOSE_DB = 0.02
MOST_TRIES = 24


@dataclass(frozen=True, slots=True)
class Needle:
    """Reductions that both kinds of detectors show.

    On average, and each for itself, in dB.
    """

    both_db: float
    peak_db: float
    power_db: float


@kernel
def _smooth_power(level: Singles, attack: float, release: float, out: Singles) -> None:
    smoothed = 0.0
    for n in range(level.shape[0]):
        power = level[n] * level[n]
        share = attack if power > smoothed else release
        smoothed = share * smoothed + (1.0 - share) * power
        if smoothed < 1e-20:
            smoothed = 0.0
        out[n] = smoothed


def _highest(values: Singles, width: int) -> Singles:
    """Return the highest value of each whole window of ``width``; of everything when there is none."""
    width = min(width, values.size)
    highest: Singles = values[: values.size // width * width].reshape(-1, width).max(axis=1)
    return highest


def static_reduction_db(level_db: Floats, curve: Curve) -> Floats:
    """Return what the static curve takes off.

    In dB, for levels in dB, any shape (equation 4 of the compressor's reference).
    """
    over = level_db - curve.threshold_dbfs
    knee = max(curve.knee_db, 1e-9)
    bent = np.square(np.clip(over + knee / 2, 0.0, knee)) / (2 * knee)
    return np.asarray((1 - 1 / curve.ratio) * (bent + np.maximum(over - knee / 2, 0.0)))


class NeedleReader:
    """Reads a compressor's needle on one sound. For many thresholds."""

    def __init__(self, sound: Signal, timing: Timing = GLUE) -> None:
        """Prepare a stretch of the group's sound."""
        stride = max(int(sound.rate_hz // COARSE_HZ), 1)
        self._timing = timing
        self._rate_hz = sound.rate_hz / stride
        self._level: Singles = np.ascontiguousarray(linked_level(sound.samples)[::stride])
        self._width = max(round(NEEDLE_S * self._rate_hz), 1)
        power = np.empty_like(self._level)
        _smooth_power(self._level, alpha(timing.attack_ms, self._rate_hz), alpha(timing.release_ms, self._rate_hz), power)
        self.highest = float(self._level.max(initial=0.0))
        if self.highest < SILENT:
            self._plays, self._power_db = np.zeros(0, np.bool_), np.zeros(0)
            return
        peaks = _highest(self._level, self._width)
        self._plays = peaks > peaks.max() * 10 ** (-PLAYING_DB / 20)
        self._power_db = powers_to_db(_highest(power, self._width)[self._plays])

    def swing(self, curve: Curve) -> Needle:
        """Return how far the needle usually swings."""
        if self.highest < SILENT:
            return Needle(0.0, 0.0, 0.0)
        taken = GainReduction(curve, self._timing, self._rate_hz).follow(self._level)
        peak_db = float(np.median(_highest(taken, self._width)[self._plays]))
        power_db = float(np.median(static_reduction_db(self._power_db, curve)))
        return Needle((peak_db + power_db) / 2, peak_db, power_db)

    def threshold(self, ratio: float, wanted_db: float = WANTED_DB) -> float | None:
        """Return the threshold for a wanted swing of the needle.

        In dBFS, for ``wanted_db``; ``None`` for silence.
        """
        if self.highest < SILENT:
            return None
        top = 20 * float(np.log10(self.highest))
        low, high = top - 100.0, top + KNEE_DB
        # the power detector alone gives a first guess for nothing
        guess = float(np.median(self._power_db)) - wanted_db / (1 - 1 / ratio)
        for _ in range(MOST_TRIES):
            swing = self.swing(Curve(guess, ratio, KNEE_DB)).both_db
            if abs(swing - wanted_db) < CLOSE_DB:
                break
            low, high = (guess, high) if swing > wanted_db else (low, guess)
            step = guess + (swing - wanted_db) / (1 - 1 / ratio) * (1.5 if swing > 0 else 1.0)
            guess = step if low < step < high else (low + high) / 2
        return guess
