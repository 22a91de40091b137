"""How what sustains moves between the strokes.

Whether it dies away, as sound left alone does, or is let up again.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from features.hits.separation import Parts

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

RANGE_HZ = (250.0, 12000.0)
CLEAREST = 8  # sixth octaves that strokes reach least
RANGE_DB = 40.0  # below the strongest of them a region does not count
ACTIVE_DB = 45.0  # below its own loudest a region is silent
EITHER_SIDE = 3  # frames that a slope reaches back and ahead: 17 ms
AFTER_STROKE, BEFORE_STROKE = 9, 7  # frames in which the window still, or already, hears a stroke
PIECES_S = (0.05, 0.10, 0.15, 0.20, 0.25)  # after a kick
LATE_S = (0.25, 0.45)
FEWEST_FRAMES = 60  # a third of a second, in each half of the kicks


def clear_slope(parts: Parts, centre_hz: Floats, hop_s: float) -> Singles:
    """Return how fast what sustains rises, in dB per second.

    Shape ``(frames,)``; NaN where it is silent.
    The median of the slopes of eight sixth-octave bands between 250 Hz and 12 kHz: those in which the least of the energy is stroke,
    so that drums that sound on do not hide what the others do. A gain that moves, moves all of them alike.

    Parameters
    ----------
    parts
        The separated sound, of shape ``(frames, bands)``.
    centre_hz
        Centres of its bands.
    hop_s
        Time from frame to frame in seconds.
    """
    frames = len(parts.whole)
    inside = (centre_hz > RANGE_HZ[0]) & (centre_hz < RANGE_HZ[1])
    power = parts.whole.sum(axis=0, dtype=np.float64)
    inside &= power > 10 ** (-RANGE_DB / 10) * power[inside].max(initial=0.0)
    some = np.flatnonzero(inside)
    rising = np.full(frames, np.nan, np.float32)
    if frames <= 2 * EITHER_SIDE or not len(some):
        return rising
    struck = parts.strokes()[:, some].sum(axis=0, dtype=np.float64) / power[some]
    chosen = some[np.argsort(struck, kind="stable")[:CLEAREST]]
    level_db = np.float32(10.0) * np.log10(np.maximum(parts.whole[:, chosen], np.float32(1e-15)))
    slope = (level_db[2 * EITHER_SIDE :] - level_db[: -2 * EITHER_SIDE]) / np.float32(2 * EITHER_SIDE * hop_s)
    active = level_db > np.quantile(level_db, 0.95, axis=0) - ACTIVE_DB
    usable = active[EITHER_SIDE:-EITHER_SIDE].all(axis=1)
    rising[EITHER_SIDE:-EITHER_SIDE][usable] = np.median(slope[usable], axis=1)
    return rising


def rise_after(slope: Singles, strokes: NDArray[np.int64], kicks: NDArray[np.int64], hop_s: float) -> float | None:
    """Return how far the sustained part rises after a kick.

    In dB, from 50 to 250 ms after it: 0 where it goes on falling.
    ``None`` where strokes or silence fill that time.
    Frames in which a stroke is heard are left out, those of each 50 ms taken together by their median over the kicks. What comes back
    slows down; a swell goes on as steeply later in the beat, and is taken off as far as that. Slopes scatter widely: the smaller rise of
    one half of the kicks and the other counts, so that what only chance or a few kicks show is none.
    """
    if not len(kicks):
        return None
    since, number = _since(kicks, len(slope))
    usable = np.isfinite(slope) & _between(strokes, len(slope))
    second = np.bitwise_count(np.maximum(number, 0)) % 2  # Thue-Morse: both halves have as many kicks of every beat, bar and pair of bars
    halves = [_rise(slope, usable & (second == half), since, hop_s) for half in (0, 1)]
    read = [rise for rise in halves if rise is not None]
    return min(read) if len(read) == len(halves) else None


def _rise(slope: Singles, usable: NDArray[np.bool_], since: NDArray[np.int64], hop_s: float) -> float | None:
    pieces = [_median(slope, usable, since, low / hop_s, high / hop_s) for low, high in pairwise(PIECES_S)]
    read = [slope_db for slope_db in pieces if slope_db is not None]
    if len(read) < len(pieces) - 1:
        return None
    late = _median(slope, usable, since, LATE_S[0] / hop_s, LATE_S[1] / hop_s)
    early = float(np.mean(read))
    rising = early - max(2.0 * (late or 0.0) - early, 0.0)
    return max(rising, 0.0) * (PIECES_S[-1] - PIECES_S[0])


def _since(kicks: NDArray[np.int64], frames: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return how many frames ago the last kick was, more than there are before the first, and its number."""
    place = np.arange(frames)
    last = np.searchsorted(kicks, place, side="right") - 1
    return np.where(last >= 0, place - kicks[np.maximum(last, 0)], frames + 1), last


def _between(strokes: NDArray[np.int64], frames: int) -> NDArray[np.bool_]:
    edges = np.zeros(frames + 1, np.int64)
    np.add.at(edges, np.clip(strokes - BEFORE_STROKE, 0, frames), 1)
    np.add.at(edges, np.clip(strokes + AFTER_STROKE, 0, frames), -1)
    free: NDArray[np.bool_] = np.cumsum(edges[:-1]) == 0
    return free


def _median(slope: Singles, usable: NDArray[np.bool_], since: NDArray[np.int64], low: float, high: float) -> float | None:
    inside = slope[usable & (since >= low) & (since < high)]
    return float(np.median(inside)) if len(inside) >= FEWEST_FRAMES else None
