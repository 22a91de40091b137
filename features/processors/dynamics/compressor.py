"""Compressor: feed-forward, soft knee, smooth branching one-pole in decibels.

After Giannoulis, Massberg and Reiss, "Digital dynamic range compressor design: a tutorial and analysis", JAES 60(6), 399-408 (2012):
the level of the loudest channel in dB goes through the static curve (their equation 4), what the curve takes off is smoothed with
``alpha = exp(-1 / (tau rate))``, the attack's where it grows, the release's where it falls (their smooth branching detector), and taken off
all channels alike. ``tau`` is the time to 63 % of a step.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.sound.compiled import kernel
from features.sound.signal import Samples, Signal

Singles = NDArray[np.float32]

SILENT = 1e-6
SEARCH_STEPS = 12


@dataclass(frozen=True, slots=True)
class Curve:
    """The static curve.

    ``ratio`` dB in for one dB out above ``threshold_dbfs``, rounded over ``knee_db`` (half on each side).
    """

    threshold_dbfs: float
    ratio: float
    knee_db: float = 6.0


@dataclass(frozen=True, slots=True)
class Timing:
    """Time constants (63 %) of attack and release."""

    attack_ms: float
    release_ms: float


def static_output_db(level_db: float, curve: Curve) -> float:
    """Return the output level of the static curve, in dB.

    For an input level in dB.

    Examples
    --------
    >>> static_output_db(-20.0, Curve(-20.0, 4.0, 10.0))
    -20.9375
    """
    over = level_db - curve.threshold_dbfs
    slope = 1 / curve.ratio - 1
    if 2 * over < -curve.knee_db:
        return level_db
    if 2 * abs(over) <= curve.knee_db and curve.knee_db > 0:
        return level_db + slope * (over + curve.knee_db / 2) ** 2 / (2 * curve.knee_db)
    return level_db + slope * over


@kernel
def fill_reduction(level: Singles, shape: tuple[float, float, float], alphas: tuple[float, float], start_db: float, out: Singles) -> float:
    """Write the smoothed reduction for a linear level.

    In dB, 0 or more; returns where it ends, to go on from there.

    ``shape`` is threshold in dB, ``1 - 1/ratio``, knee in dB; ``alphas`` are those of attack and release.
    """
    threshold, slope, knee = shape
    attack, release = alphas
    lowest = 10.0 ** ((threshold - knee / 2) / 20.0)
    reduction = start_db
    for n in range(level.shape[0]):
        wanted = 0.0
        if level[n] > lowest:
            over = 20.0 * np.log10(level[n]) - threshold
            wanted = slope * over if 2.0 * over > knee else slope * (over + knee / 2) ** 2 / (2.0 * knee)
        alpha = attack if wanted > reduction else release
        reduction = alpha * reduction + (1.0 - alpha) * wanted
        if reduction < 1e-7:
            reduction = 0.0
        out[n] = reduction
    return reduction


def alpha(time_ms: float, rate_hz: float) -> float:
    """Return the one-pole's coefficient ``exp(-1 / (tau rate))``.

    0 for no time.

    Examples
    --------
    >>> round(alpha(10.0, 48000.0), 6)
    0.997919
    """
    return float(np.exp(-1000 / (time_ms * rate_hz))) if time_ms > 0 else 0.0


def linked_level(samples: Samples) -> Singles:
    """Return the highest magnitude of all channels, shape ``(frames,)``."""
    level: Singles = np.abs(samples).max(axis=0)
    return level


class GainReduction:
    """The compressor's brain with memory.

    Levels in, reduction in dB out, block by block.
    """

    def __init__(self, curve: Curve, timing: Timing, rate_hz: float) -> None:
        """Start with no reduction."""
        self._shape = (float(curve.threshold_dbfs), 1.0 - 1.0 / curve.ratio, float(max(curve.knee_db, 0.0)))
        self._alphas = (alpha(timing.attack_ms, rate_hz), alpha(timing.release_ms, rate_hz))
        self._reduction_db = 0.0

    def follow(self, level: Singles) -> Singles:
        """Return the reduction for the next linear levels.

        In dB, 0 or more, shape ``(frames,)``.
        """
        out = np.empty(level.size, np.float32)
        self._reduction_db = fill_reduction(np.ascontiguousarray(level), self._shape, self._alphas, self._reduction_db, out)
        return out


def reduction_db(signal: Signal, curve: Curve, timing: Timing) -> Singles:
    """Return what the compressor takes off, in dB.

    0 or more, shape ``(frames,)``.
    """
    return GainReduction(curve, timing, signal.rate_hz).follow(linked_level(signal.samples))


def compress(signal: Signal, curve: Curve, timing: Timing, makeup_db: float = 0.0) -> Signal:
    """Compress ``signal``.

    A ratio of 1 with no make-up returns the same samples.
    """
    if curve.ratio <= 1.0 and makeup_db == 0.0:
        return signal
    gain = 10 ** ((np.float32(makeup_db) - reduction_db(signal, curve, timing)) / np.float32(20))
    return Signal(signal.samples * gain.astype(np.float32), signal.rate_hz)


def parallel(signal: Signal, curve: Curve, timing: Timing, blend_db: float) -> Signal:
    """Add the compressed signal, at ``blend_db``, to the untouched one.

    ``x + 10 ** (blend / 20) compressed(x)``.

    Loud moments, which the compressor takes down, grow little; soft ones grow by up to ``1 + 10 ** (blend / 20)``.
    A blend of minus infinity returns the same samples.
    """
    blend = np.float32(10 ** (blend_db / 20))
    if blend == 0.0:
        return signal
    return Signal(signal.samples + blend * compress(signal, curve, timing).samples, signal.rate_hz)


def threshold_for(signal: Signal, wanted_db: float, ratio: float, timing: Timing, knee_db: float = 6.0) -> float | None:
    """Return the threshold for a wanted reduction.

    In dBFS; there the loud moments lose ``wanted_db``; ``None`` for silence.

    "Loud moments": the P95 of the reduction over time, which is about what a meter's needle swings to. Found by halving.
    """
    level = linked_level(signal.samples)
    if level.max(initial=0.0) < SILENT:
        return None
    high = 20 * float(np.log10(level.max())) + knee_db
    low = high - 80.0
    for _ in range(SEARCH_STEPS):
        middle = (low + high) / 2
        taken = GainReduction(Curve(middle, ratio, knee_db), timing, signal.rate_hz).follow(level)
        low, high = (middle, high) if np.quantile(taken, 0.95) > wanted_db else (low, middle)
    return (low + high) / 2
