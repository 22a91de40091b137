"""The densest stretch of a song.

The 30 s that are loudest together.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.loudness.gating import (
    ABSOLUTE_GATE_LUFS,
    BLOCK_STEPS,
    HOP_STEPS,
    RELATIVE_GATE_LU,
    energy_at,
    integrated_from_steps,
    loudness,
    sliding_means,
)
from features.loudness.level import LevelTrace
from features.records.base import Span
from features.sound.measurement import Trace, measurement

Floats = NDArray[np.float64]

DENSEST_S = 30.0


@dataclass(frozen=True, slots=True)
class Densest(Trace):
    """Where a song is densest, and its gated loudness there.

    ``None`` for silence.
    """

    span: Span
    lufs: float | None


@measurement
def find_densest(level: LevelTrace) -> Densest:
    """Find the 30 s of highest gated loudness.

    Stepped at 1 s; the whole when it is shorter.
    """
    k_sum = level.k_sum()
    blocks = sliding_means(k_sum, BLOCK_STEPS, HOP_STEPS)
    count = round(DENSEST_S * 10) - BLOCK_STEPS // HOP_STEPS + 1
    if len(blocks) <= count:
        return Densest(Span(0.0, level.duration_s), integrated_from_steps(k_sum))
    windows = np.lib.stride_tricks.sliding_window_view(blocks, count)[::10]
    loud = windows > energy_at(ABSOLUTE_GATE_LUFS)
    gates = _mean(windows, loud) * 10 ** (RELATIVE_GATE_LU / 10)
    gated = _mean(windows, loud & (windows > gates[:, None]))
    place = int(np.argmax(gated))
    return Densest(Span(float(place), place + DENSEST_S), loudness(float(gated[place])))


def _mean(values: Floats, chosen: NDArray[np.bool_]) -> Floats:
    means: Floats = (values * chosen).sum(axis=1) / np.maximum(chosen.sum(axis=1), 1)
    return means
