"""Dips: how a level falls and rises around kicks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.hits.kicks import Kicks

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

BEFORE_S = (0.10, 0.03)  # the window hears a kick 23 ms early
DIP_S = (0.03, 0.25)
END_S = 0.45
SMOOTH_FRAMES = 5
AROUND_FRAMES = 4
ACTIVE_DB = 40.0
SILENT_DB = -150.0
KICKS_AT_ONCE = 1024  # a song of hours has many


@dataclass(frozen=True, slots=True)
class Curves:
    """Level around each kick, against just before it, in dB.

    Shape ``(kicks, lags)``; NaN where nothing sounds.
    ``zero`` is the lag of the kick, ``hop_s`` the time from lag to lag.
    """

    level_db: Floats
    zero: int
    hop_s: float


def after_kicks(level_db: Floats | Singles, kicks: Kicks, hop_s: float) -> Curves:
    """Cut out the level around each kick.

    Parameters
    ----------
    level_db
        Level over time of one or several bands, shape ``(frames, bands)``.
    kicks
        Where the kicks are.
    hop_s
        Time from frame to frame in seconds.

    Returns
    -------
    Curves
        The median of the bands, each against its own mean 100-30 ms before the kick; bands 40 dB below the loudest before a
        kick do not count. From 0.1 s before to 0.45 s after the kick, but not into the next one.
    """
    first, last = -round(BEFORE_S[0] / hop_s), round(END_S / hop_s)
    gap = np.diff(kicks.frames, append=len(level_db))
    lags = np.arange(first, last + 1)
    usual_db = float(np.quantile(level_db, 0.9, axis=0).max())
    curves = [np.zeros((0, lags.size))]
    for start in range(0, len(kicks.frames), KICKS_AT_ONCE):
        some = slice(start, start + KICKS_AT_ONCE)
        level = around(level_db, kicks.frames[some], first, last)
        level[lags[None, :] > gap[some, None] - round(BEFORE_S[1] / hop_s)] = np.nan
        before = level[:, : round((BEFORE_S[0] - BEFORE_S[1]) / hop_s) + 1].mean(axis=1)  # NaN where the song has not begun
        sounding = before > max(usual_db - ACTIVE_DB, SILENT_DB)
        level -= before[:, None, :]
        curves.append(_median(np.where(sounding[:, None, :], level, np.nan)))
    return Curves(np.concatenate(curves), -first, hop_s)


def around(curve_db: Floats | Singles, frames: NDArray[np.int64], first: int, last: int) -> Floats:
    """Return the curve around each kick.

    From ``first`` to ``last`` frames, NaN outside the song.
    ``curve_db`` has the shape ``(frames,)`` or ``(frames, bands)``, the result ``(kicks, last - first + 1[, bands])``.
    """
    index = frames[:, None] + np.arange(first, last + 1)[None, :]
    inside = (index >= 0) & (index < len(curve_db))
    levels_db: Floats = curve_db[np.clip(index, 0, len(curve_db) - 1)].astype(np.float64)
    levels_db[~inside] = np.nan
    return levels_db


def _median(level: Floats) -> Floats:
    """Return the median over the last axis, NaN left out, and NaN where nothing is left."""
    some = np.isfinite(level).any(axis=-1)
    means = np.full(level.shape[:-1], np.nan)
    means[some] = np.nanmedian(level[some], axis=-1)
    return means


def typical_dip(curves: Curves) -> tuple[int, float]:
    """Return the lag and depth of the usual dip.

    Where the median curve is lowest, depth in dB; 0 where nothing dips.
    The lowest point lies 30-250 ms after the kick. Its depth counts from the lower of two levels: just before the kick, and what
    the curve comes back to; so what merely dies away is no dip. Own definition, no published source.
    """
    typical = _median(curves.level_db.T)
    smooth = _smooth(typical)
    low, high = curves.zero + round(DIP_S[0] / curves.hop_s), curves.zero + round(DIP_S[1] / curves.hop_s)
    inside = np.where(np.isfinite(typical[low : high + 1]), smooth[low : high + 1], np.inf)
    lowest = low + int(np.argmin(inside))
    if not np.isfinite(inside).any():
        return low, 0.0
    end = int(np.flatnonzero(np.isfinite(typical))[-1]) - SMOOTH_FRAMES // 2
    back = float(smooth[lowest : max(end, lowest) + 1].max())
    return lowest, max(min(0.0, back) - float(smooth[lowest]), 0.0)


def _smooth(typical: Floats) -> Floats:
    return np.convolve(np.nan_to_num(typical), np.full(SMOOTH_FRAMES, 1 / SMOOTH_FRAMES), mode="same")


def dip_of_each(curves: Curves, lowest: int) -> Floats:
    """Return the depth of each kick's own dip.

    Against just before, over some 50 ms around ``lowest``; shape ``(kicks,)``.
    """
    low = max(lowest - AROUND_FRAMES, curves.zero + round(DIP_S[0] / curves.hop_s))
    near = curves.level_db[:, low : lowest + AROUND_FRAMES + 1]
    some = np.isfinite(near).any(axis=1)
    dips = np.zeros(len(near))
    dips[some] = -np.nanmean(near[some], axis=1)
    return dips


def half_recovered_ms(curves: Curves, lowest: int, depth_db: float) -> float | None:
    """Return the time until half the dip is made good.

    From the kick, in ms; ``None`` when that does not happen within 0.45 s.
    """
    smooth = _smooth(_median(curves.level_db.T))
    after = np.flatnonzero(smooth[lowest:] >= smooth[lowest] + depth_db / 2)
    return float((lowest + after[0] - curves.zero) * curves.hop_s * 1000) if len(after) else None
