"""Pumping: what sustains, ducking after each kick."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.decibels import powers_to_db
from features.hits import HitTrace, worst_windows
from features.kicks import Kicks, around, find_kicks
from features.measurements import Absence, Pumping, Span

Floats = NDArray[np.float64]

BEFORE_S = (0.10, 0.03)  # the window hears a kick 23 ms early
DIP_S = (0.03, 0.25)
END_S = 0.45
SMOOTH_FRAMES = 5
AROUND_FRAMES = 4
CLEAR_DB = 1.0
ACTIVE_DB = 40.0
LEAST_ACTIVE = 0.5  # of the kicks must have something sounding around them
WHERE = 3


@dataclass(frozen=True, slots=True)
class _Curves:
    """Level of the sustained part around each kick, against just before it, shape ``(kicks, lags)``; ``zero`` is the kick's lag."""

    level_db: Floats
    zero: int


def measure_pumping(trace: HitTrace) -> Pumping:
    """Measure how far, and how long, what sustains above 250 Hz dips after each kick.

    Per kick the level of six octaves is read against their mean 100-30 ms before, and the median of the octaves is
    taken, so that a stroke that fills one or two of them does not count; strokes above what is held are cut off before. The depth is
    read from the median over the kicks, at its lowest point 30-250 ms after the kick, against the lower of before and what it
    comes back to: a sound that merely dies away is no dip. Own definition, no published source.
    """
    kicks = find_kicks(trace)
    if not len(kicks):
        return _absent("no kick was found")
    curves = _curves(trace, kicks)
    usable = np.isfinite(curves.level_db).any(axis=1)
    if np.count_nonzero(usable) < max(LEAST_ACTIVE * len(kicks), 1):
        return _absent("nothing sustains above 250 Hz around the kicks")
    level, times = curves.level_db[usable], kicks.times_s[usable]
    typical = _median(level.T)
    lowest, depth = _dip(typical, curves.zero, trace.hop_s)
    dips = _dips(level, lowest, curves.zero, trace.hop_s)
    recovery = _recovery_ms(typical, lowest, depth, curves.zero, trace.hop_s) if depth >= CLEAR_DB else None
    absent = () if recovery is not None else (Absence("recovery_ms", "there is no dip of 1 dB or more that comes back within 450 ms"),)
    deepest = worst_windows(times, -dips, WHERE)
    return Pumping(
        depth_db=depth,
        recovery_ms=recovery,
        share_of_kicks=float(np.mean(dips > CLEAR_DB)),
        where=tuple(Span(one.start_s, one.end_s) for one in deepest if one.value < -CLEAR_DB),
        absent=absent,
    )


def _absent(reason: str) -> Pumping:
    return Pumping(None, None, None, (), absent=tuple(Absence(name, reason) for name in ("depth_db", "recovery_ms", "share_of_kicks")))


def _curves(trace: HitTrace, kicks: Kicks) -> _Curves:
    first, last = -round(BEFORE_S[0] / trace.hop_s), round(END_S / trace.hop_s)
    level = around(powers_to_db(trace.high_sustained), kicks.frames, first, last)
    gap = np.diff(kicks.frames, append=len(trace.high_sustained))
    lags = np.arange(first, last + 1)
    level[lags[None, :] > gap[:, None] + round(-BEFORE_S[1] / trace.hop_s)] = np.nan  # the next kick ends the curve
    before = level[:, : round((BEFORE_S[0] - BEFORE_S[1]) / trace.hop_s) + 1].mean(axis=1)  # NaN where the song has not begun
    usual = np.quantile(powers_to_db(trace.high_sustained), 0.9, axis=0)
    sounding = before > max(float(usual.max()) - ACTIVE_DB, -150.0)
    level -= before[:, None, :]
    level = np.where(sounding[:, None, :], level, np.nan)
    return _Curves(_median(level), -first)


def _median(level: Floats) -> Floats:
    """Return the median over the last axis, NaN left out, and NaN where nothing is left."""
    some = np.isfinite(level).any(axis=-1)
    found = np.full(level.shape[:-1], np.nan)
    found[some] = np.nanmedian(level[some], axis=-1)
    return found


def _dip(typical: Floats, zero: int, hop_s: float) -> tuple[int, float]:
    """Return the lag of the lowest point and its depth in dB, 0 where nothing dips."""
    smooth = np.convolve(np.nan_to_num(typical), np.full(SMOOTH_FRAMES, 1 / SMOOTH_FRAMES), mode="same")
    low, high = zero + round(DIP_S[0] / hop_s), zero + round(DIP_S[1] / hop_s)
    inside = smooth[low : high + 1].copy()
    inside[~np.isfinite(typical[low : high + 1])] = np.inf
    lowest = low + int(np.argmin(inside))
    return lowest, max(min(0.0, _comes_back_to(smooth, typical, lowest)) - float(smooth[lowest]), 0.0)


def _comes_back_to(smooth: Floats, typical: Floats, lowest: int) -> float:
    end = int(np.flatnonzero(np.isfinite(typical))[-1]) - SMOOTH_FRAMES // 2
    return float(smooth[lowest : max(end, lowest) + 1].max())


def _dips(level: Floats, lowest: int, zero: int, hop_s: float) -> Floats:
    """Return the dip of each kick where the typical curve is lowest: mean over some 50 ms."""
    low = max(lowest - AROUND_FRAMES, zero + round(DIP_S[0] / hop_s))
    near = level[:, low : lowest + AROUND_FRAMES + 1]
    some = np.isfinite(near).any(axis=1)
    dips = np.zeros(len(level))
    dips[some] = -np.nanmean(near[some], axis=1)
    return dips


def _recovery_ms(typical: Floats, lowest: int, depth: float, zero: int, hop_s: float) -> float | None:
    """Return the time from the kick until half of the dip is made good."""
    after = np.flatnonzero(typical[lowest:] >= typical[lowest] + depth / 2)
    return float((lowest + after[0] - zero) * hop_s * 1000) if len(after) else None
