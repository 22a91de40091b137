"""How a song's peaks are distributed.

What its ordinary hits reach, rare peaks above them, and peaks piled up at a ceiling.
A mix whose loudest few peaks stand far above all others meets a limiter early for the sake of those few. The numbers used here
(one peak per 250 ms, 30 peaks a minute as "ordinary", at most 12 a minute as "rare") are common practice, no published source.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.loudness.level import LevelTrace
from features.records.base import Absence, Moment

Floats = NDArray[np.float64]

STEP_S = 0.01
APART_STEPS = 12  # a separate peak is the highest within this distance on both sides
ORDINARY_PER_MINUTE = 30.0
RARE_PER_MINUTE = 12.0
STRAY_DB = 2.0
APART_DB = 1.0  # songs' own peaks follow one another more closely
NEIGHBOURHOOD_S = 20.0
PILE_DB = 0.3
CLUSTER_DB, CLUSTER_OVER = 0.6, 3.0  # a conversion spreads what was flat; as wide on either side lie this many times fewer
CLUSTER_ABOVE, CLUSTER_UNDER_TOP_DB = 0.1, 3.5  # what may lie higher, and how far: what was flat overshoots
CLUSTER_STEPS = 100
MOST_STRAYS = 100


@dataclass(frozen=True, slots=True)
class Peaks:
    """The part of `Crest` that is about peaks."""

    stray: tuple[Moment, ...]
    ordinary_dbfs: float | None
    height_db: float | None
    win_db: float | None
    pileup_share: float | None
    cluster_share: float | None
    absent: tuple[Absence, ...]


def separate_peaks(envelope: Floats) -> NDArray[np.intp]:
    """Return the steps that hold separate peaks.

    The highest within 120 ms on both sides; the first one where several are equal.

    Examples
    --------
    >>> separate_peaks(np.array([0.0, 1.0, 0.5] + [0.0] * 20 + [0.8, 0.0])).tolist()
    [1, 23]
    """
    width = 2 * APART_STEPS + 1
    padded = np.pad(envelope, APART_STEPS)
    highest = np.lib.stride_tricks.sliding_window_view(padded, width).max(axis=1)
    candidates = np.flatnonzero((envelope >= highest) & (envelope > 0.0))
    separate: list[int] = []
    for at in candidates.tolist():
        if not separate or at - separate[-1] > APART_STEPS:
            separate.append(at)
    return np.array(separate, np.intp)


def _active_minutes(power: Floats) -> float:
    """Return how long the song plays: steps whose second is within 30 dB of the loud ones."""
    smooth = np.convolve(power, np.full(100, 0.01), mode="same")[: power.size]
    return float(np.count_nonzero(smooth > np.quantile(smooth, 0.95) * 1e-3)) * STEP_S / 60.0


def _ranked(levels_db: Floats, count: float) -> float:
    """Return the level that ``count`` of the peaks reach; the lowest one where there are fewer."""
    order = np.sort(levels_db)[::-1]
    return float(order[min(max(round(count) - 1, 0), order.size - 1)])


def _strays(times_s: Floats, levels_db: Floats, ordinary_db: float, minutes: float) -> tuple[Moment, ...]:
    """Return the rare peaks 2 dB or more above the ordinary ones of the whole song and of their own neighbourhood."""
    above = np.flatnonzero(levels_db >= ordinary_db + STRAY_DB)
    if above.size > RARE_PER_MINUTE * max(minutes, 1.0):
        return ()
    strays: list[Moment] = []
    for at in above.tolist():
        near = np.abs(times_s - times_s[at]) <= NEIGHBOURHOOD_S
        local_db = _ranked(levels_db[near], ORDINARY_PER_MINUTE * np.ptp(times_s[near]) / 60.0)
        if levels_db[at] >= local_db + STRAY_DB:
            start = float(times_s[at])
            strays.append(Moment(start, start + STEP_S, float(levels_db[at] - ordinary_db)))
    return tuple(sorted(strays, key=lambda stray: -stray.value)[:MOST_STRAYS])


def _win(levels_db: Floats, strays: tuple[Moment, ...], ordinary_db: float) -> float:
    """Return how much headroom lowering the strays to the next peak wins, 0 unless they stand 1 dB or more apart from it."""
    order = np.sort(levels_db)[::-1][: len(strays) + 1] - ordinary_db
    values = np.array([stray.value for stray in strays])
    count = min(len(values), len(order) - 1)
    apart = [k for k in range(1, count + 1) if order[k - 1] - order[k] >= APART_DB and abs(order[k - 1] - values[k - 1]) < 1e-6]
    return float(order[0] - order[apart[-1]]) if apart else 0.0


def _loud(power: Floats) -> NDArray[np.bool_]:
    """Return the louder half, by 400 ms level, of the steps that play."""
    smooth = np.convolve(power, np.full(40, 1.0 / 40.0), mode="same")[: power.size]
    playing = smooth > smooth.max() * 1e-3
    loud: NDArray[np.bool_] = playing & (smooth >= np.median(smooth[playing]))
    return loud


def _pileup_share(peak: Floats, loud: NDArray[np.bool_]) -> float | None:
    """Return the share of loud steps whose peak is near the highest."""
    return float(np.mean(peak[loud] >= peak.max() * 10.0 ** (-PILE_DB / 20.0))) if loud.any() else None


def cluster_share(peak: Floats) -> float:
    """Return the share of peaks that pile up.

    They stand at nearly one height below the top, as flat tops do after a conversion; else 0.
    Of all ranges 0.6 dB wide that end at most 3.5 dB under the highest peak, with at most a tenth of the peaks, or a third of their own,
    above them, and three times as full as the ranges next to them, the fullest. Peaks that a resampler or an encoder has moved overshoot
    by up to 3 dB, most by less.

    Parameters
    ----------
    peak
        Peak of each loud step, linear, shape ``(steps,)``.

    Examples
    --------
    >>> cluster_share(np.r_[np.full(60, 0.5), np.geomspace(0.05, 0.45, 139), 0.6])
    0.3
    """
    if peak.size < CLUSTER_STEPS:
        return 0.0
    levels_db = np.sort(20.0 * np.log10(np.maximum(peak, 1e-10)))
    places = np.searchsorted(levels_db, levels_db[:, None] + CLUSTER_DB * np.array([-1.0, 0.0, 1.0, 2.0]))
    below, inside, above = np.diff(places, axis=1).T / peak.size
    higher = 1.0 - places[:, 2] / peak.size
    near_top = levels_db + CLUSTER_DB >= levels_db[-1] - CLUSTER_UNDER_TOP_DB
    few_above = higher <= np.maximum(CLUSTER_ABOVE, inside / CLUSTER_OVER)
    stands_out = near_top & few_above & (inside >= CLUSTER_OVER * np.maximum(below, above))
    return float(inside[stands_out].max(initial=0.0))


def measure_peaks(level_trace: LevelTrace) -> Peaks:
    """Return the distribution of the sample peaks.

    In dBFS, the higher channel, of ``level_trace``.
    """
    peak = np.asarray(level_trace.sample_peak, np.float64).max(axis=0, initial=0.0)
    true_peak = np.asarray(level_trace.true_peak, np.float64).max(axis=0, initial=0.0)
    power = np.asarray(level_trace.energy, np.float64).sum(axis=0)
    if peak.size == 0 or peak.max() < 1e-5:
        reasons = ("ordinary_peak_dbfs", "stray_height_db", "stray_win_db", "peak_pileup_share", "peak_cluster_share")
        return Peaks((), None, None, None, None, None, tuple(Absence(name, "the file is silent") for name in reasons))
    at = separate_peaks(peak)
    levels_db: Floats = 20.0 * np.log10(peak[at])
    minutes = max(_active_minutes(power), 1.0 / 60.0)
    ordinary_db = _ranked(levels_db, ORDINARY_PER_MINUTE * minutes)
    loud = _loud(power)
    shares = [share for share in (_pileup_share(peak, loud), _pileup_share(true_peak, loud)) if share is not None]
    strays = _strays(np.asarray(at * STEP_S, np.float64), levels_db, ordinary_db, minutes)
    return Peaks(
        stray=strays,
        ordinary_dbfs=ordinary_db,
        height_db=float(20.0 * np.log10(peak.max()) - ordinary_db),
        win_db=_win(levels_db, strays, ordinary_db),
        pileup_share=max(shares, default=None),
        cluster_share=cluster_share(true_peak[loud]),
        absent=(),
    )
