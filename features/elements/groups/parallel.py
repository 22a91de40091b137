"""Parallel compression of a group.

The blend that raises its quiet parts and leaves its peak.

``y = x + b c``, ``c = g x`` the compressed sound, ``b`` the blend. With K-weighted energies of ``x`` and ``c`` and their product in each
400 ms the loudness of ``y`` follows for any ``b`` at once: ``E = Exx + 2 b Exc + b ** 2 Ecc``. The quiet parts are the windows between
the 10th and the 30th percentile of the group's loudness while it plays; their lift is the median of what they gain.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.loudness.gating import ABSOLUTE_GATE_LUFS, BLOCK_STEPS, HOP_STEPS, energy_at
from features.processors.dynamics.compressor import Curve, GainReduction, Timing, linked_level
from features.sound.k_weighting import STATE_SIZE, STEPS_PER_S, energies, k_weighting, step_edges
from features.sound.signal import Signal

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

RATIO = 10.0
KNEE_DB = 6.0
TIMING = Timing(attack_ms=0.1, release_ms=50.0)  # fast, so that no stroke slips through; common practice, no published source
BELOW_PEAK_DB = (12.0, 18.0, 24.0, 30.0)
WANTED_DB = 3.0
MOST_PEAK_DB = 0.45  # under half a decibel, with a little to spare
LEAST_DB = 0.5
PLAYING_LU = 25.0  # below the loudest 400 ms: quieter windows are rests and tails
QUIET = (0.10, 0.30)
FEWEST_WINDOWS = 10
BLENDS_DB = np.arange(-30.0, 6.01, 0.25)


@dataclass(frozen=True, slots=True)
class Blend:
    """A parallel compressor for a group.

    Threshold and blend, and what they do to its quiet parts and its peak.
    """

    threshold_dbfs: float
    blend_db: float
    lift_db: float
    peak_rise_db: float


def find_blend(sound: Signal) -> Blend | None:
    """Return the parallel compression that lifts the quiet parts.

    By 3 dB, with the smallest rise of the peak.

    Where none reaches 3 dB with the peak rising by less than 0.5 dB, the one that lifts most; ``None`` below 0.5 dB, or when there is
    too little to tell loud from quiet (one second, silence). The compressor: 10:1, 6 dB knee, 0.1 ms attack, 50 ms release.
    Dense, finished material allows 1 to 2 dB at most: its quiet parts lie too close under its peaks.
    """
    level = linked_level(sound.samples)
    highest = float(level.max(initial=0.0))
    if highest <= 0.0:
        return None
    blends: list[Blend] = []
    own = _products(sound.samples, sound.samples, sound.rate_hz)[0]
    windows = _quiet(_windows(own))
    if windows is None:
        return None
    for below_db in BELOW_PEAK_DB:
        threshold = 20 * float(np.log10(highest)) - below_db
        taken = GainReduction(Curve(threshold, RATIO, KNEE_DB), TIMING, sound.rate_hz).follow(level)
        gain = 10 ** (-taken / np.float32(20))
        blend = _best(sound, threshold, gain, level, windows)
        if blend is not None:
            blends.append(blend)
    reached = [blend for blend in blends if blend.lift_db >= WANTED_DB - 0.05]
    if reached:
        return min(reached, key=lambda blend: blend.peak_rise_db)
    best = max(blends, key=lambda blend: blend.lift_db, default=None)
    return best if best is not None and best.lift_db >= LEAST_DB else None


def _best(sound: Signal, threshold_dbfs: float, gain: Singles, level: Singles, windows: NDArray[np.bool_]) -> Blend | None:
    """Return the smallest blend that reaches the wanted lift, or the largest that the peak allows."""
    xx, xc, cc = (_windows(steps)[windows] for steps in _products(sound.samples, sound.samples * gain, sound.rate_hz))
    highest = float(level.max())
    best: Blend | None = None
    for blend_db in BLENDS_DB.tolist():
        b = 10 ** (blend_db / 20)
        near = level > highest / (1 + b) * 0.999
        rise_db = 20 * float(np.log10(float((level[near] * (1 + b * gain[near])).max()) / highest))
        if rise_db > MOST_PEAK_DB:
            break
        lift_db = float(np.median(10 * np.log10((xx + 2 * b * xc + b * b * cc) / xx)))
        best = Blend(threshold_dbfs, blend_db, lift_db, rise_db)
        if lift_db >= WANTED_DB:
            break
    return best


def _products(dry: NDArray[np.float32], wet: NDArray[np.float32], rate_hz: int) -> tuple[Floats, Floats, Floats]:
    """Return K-weighted mean products per 10 ms, summed over channels: one one, one other, other other."""
    edges = step_edges(rate_hz, 0, dry.shape[1] * STEPS_PER_S // rate_hz)
    filters = k_weighting(float(rate_hz))
    total = np.zeros((3, max(len(edges) - 1, 0)))
    for first, second in zip(dry, wet, strict=True):
        sums = energies(np.ascontiguousarray(first), np.ascontiguousarray(second), edges, filters, np.zeros(STATE_SIZE))
        total += sums[[0, 2, 1]]
    return total[0], total[1], total[2]


def _windows(steps: Floats) -> Floats:
    """Return means over 400 ms, every 100 ms, shape ``(windows,)``; a product may be negative, so no clipping."""
    groups = steps[: len(steps) // HOP_STEPS * HOP_STEPS].reshape(-1, HOP_STEPS).mean(axis=1)
    count = BLOCK_STEPS // HOP_STEPS
    if len(groups) < count:
        return np.zeros(0)
    return np.asarray(np.convolve(groups, np.full(count, 1.0 / count), mode="valid"))


def _quiet(loudness_energy: Floats) -> NDArray[np.bool_] | None:
    """Return which windows are the quiet ones, shape ``(windows,)``."""
    least = max(float(loudness_energy.max(initial=0.0)) * 10 ** (-PLAYING_LU / 10), energy_at(ABSOLUTE_GATE_LUFS))
    playing = loudness_energy > least
    if np.count_nonzero(playing) < FEWEST_WINDOWS:
        return None
    low, high = np.quantile(loudness_energy[playing], QUIET)
    return np.asarray(playing & (loudness_energy >= low) & (loudness_energy <= high))
