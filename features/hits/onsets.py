"""Onsets: when something strikes.

From the rise of strokes in five bands.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.hits.separation import Parts
from features.sound.compiled import kernel
from features.sound.windows import moving_mean

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

GROUP_EDGES_HZ = (30.0, 120.0, 400.0, 2000.0, 6000.0, 16000.0)
APART_S = 0.05
RISE_S = 0.023  # a stroke takes this long to cross half of the window
LOCAL_S = 1.5
FLOOR_SHARE = 0.03  # of the band's local mean power: what lies below it does not count as a rise
GATE_DB = 4.0  # what a band rises by less does not count: steady noise does that all the time
LEAST_DB = 8.0  # above the local mean, summed over the five bands


@dataclass(frozen=True, slots=True)
class Onsets:
    """Frames in which something strikes, and the rises.

    Frames ascend; the rise is in dB of each band group in every frame, ``(frames, 5)``.
    """

    frames: NDArray[np.int64]
    rise_db: Singles


def group_of(centre_hz: Floats) -> NDArray[np.int64]:
    """Return the index of each frequency's band group.

    -1 outside all of them.

    Examples
    --------
    >>> group_of(np.array([20.0, 60.0, 8000.0])).tolist()
    [-1, 0, 4]
    """
    group = np.searchsorted(GROUP_EDGES_HZ, centre_hz, side="right") - 1
    return np.where(group < len(GROUP_EDGES_HZ) - 1, group, -1).astype(np.int64)


def group_power(power: Singles, groups: NDArray[np.int64]) -> Floats:
    """Sum band power into the five groups.

    From shape ``(frames, bands)`` to shape ``(frames, 5)``.
    """
    membership = (groups[:, None] == np.arange(len(GROUP_EDGES_HZ) - 1)).astype(np.float32)
    return np.asarray(power @ membership, np.float64)


def onset_rise(parts: Parts, groups: NDArray[np.int64], hop_s: float) -> Floats:
    """Return how strongly something strikes in five bands.

    The rise of what clearly strikes, in dB, shape ``(frames, 5)``.
    Per band ``L = 10 log10(S + 0.03 m)``, ``S`` the strokes (``Parts.strokes``), ``m`` the mean power of everything over
    3 s around; the rise is ``max(L[i + lag / 2] - L[i - lag / 2], 0)`` over 23 ms.
    """
    struck, whole = group_power(parts.strokes(), groups), group_power(parts.whole, groups)
    floor = np.maximum(moving_mean(whole, 2 * round(LOCAL_S / hop_s) + 1), 0.0) * FLOOR_SHARE
    floor = np.maximum(floor, max(float(floor.max(initial=0.0)) * 1e-6, 1e-30))
    level = 10 * np.log10(struck + floor)
    lag = max(round(RISE_S / hop_s), 2)
    ahead = lag // 2
    padded = np.concatenate([np.repeat(level[:1], lag - ahead, axis=0), level, np.repeat(level[-1:], ahead, axis=0)])
    rise: Floats = np.maximum(padded[lag:] - padded[:-lag], 0.0)
    return rise


def onset_strength(rise_db: Floats | Singles) -> Floats:
    """Return how strongly something strikes, per frame.

    The rises beyond 4 dB, summed over the five bands.
    """
    return np.asarray(np.maximum(rise_db - GATE_DB, 0.0).sum(axis=1), np.float64)


@kernel
def _pick(strength: Floats, least: Floats, apart: int, picked: NDArray[np.bool_]) -> None:
    """Mark each frame that passes its limit and is the highest within ``apart`` frames on both sides, the first of equals."""
    for frame in range(len(strength)):
        value = strength[frame]
        if value <= least[frame]:
            continue
        highest = True
        for near in range(max(frame - apart, 0), min(frame + apart + 1, len(strength))):
            if strength[near] > value or (strength[near] == value and near < frame):
                highest = False
                break
        picked[frame] = highest


def find_onsets(parts: Parts, groups: NDArray[np.int64], hop_s: float) -> Onsets:
    """Find what strikes.

    Parameters
    ----------
    parts
        The separated song, or a stretch of it, in sixth-octave bands.
    groups
        Group of each band, as `group_of` gives it.
    hop_s
        Time from frame to frame in seconds.

    Returns
    -------
    Onsets
        Local maxima of `onset_strength` that stand 8 dB above its mean over 1.5 s around, 50 ms apart or more. Steady stereo
        noise passes that once in 20 s, the same noise in both channels, which flutters more, some thirty times.
    """
    if not len(parts.whole):
        return Onsets(np.zeros(0, np.int64), np.zeros((0, len(GROUP_EDGES_HZ) - 1), np.float32))
    rise = onset_rise(parts, groups, hop_s)
    strength = onset_strength(rise)
    least = LEAST_DB + moving_mean(strength, 2 * round(LOCAL_S / 2 / hop_s) + 1)
    picked = np.zeros(len(strength), np.bool_)
    _pick(strength, least, max(round(APART_S / hop_s), 1), picked)
    return Onsets(np.flatnonzero(picked).astype(np.int64), rise.astype(np.float32))
