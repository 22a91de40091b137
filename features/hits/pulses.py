"""Pulses: a gain with a period of its own.

It moves everything alike, and the hits know nothing of it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.hits.audibility import HitTrace
from features.records.base import Absence
from features.records.hits import Pulses
from features.sound.measurement import measurement

Floats = NDArray[np.float64]

PERIODS_S = (0.15, 2.0)
STEP_FRAMES = 4  # of the hits' frames: 23 ms
SLOW_S = 2.5  # what moves slower is the song's course
SOUNDS_DB, FLOOR_DB = 45.0, 30.0  # octaves further below the strongest do not count; an octave's own silence is cut off here
SHORTEST_S = 12.0  # six of the longest periods
FINER = 4  # points to a line's width
NEAR_HZ = 0.75  # the lines around a line, for how far it stands out
LEAST_DB = 0.05
GRID_HZ, FOLDED_HZ = (1.5, 13.0), 8.0
AS_STRONG = 0.6  # the fastest of lines about as strong is the step
STEADY = 15.0  # power of the hits' own line over chance: they keep time
HITS_TOO = 8.0
DIVISIONS = (16, 12)  # of the hits' own step: a pattern of a bar or two, straight or in threes
ON_GRID_WIDTHS, APART_WIDTHS = 0.4, 2.0
ON_GRID_HZ = 0.004  # and no less, in long songs: clocks and detection are no finer
LEAST_OUT = 5.0
BEST = 3
PIECE_S, MOST_PIECES = 8.0, 24
WHOLES = (3, 2)  # a pulse that is no cosine has overtones; its period is the lowest line's


@dataclass(frozen=True, slots=True)
class _Lines:
    """Lines of the levels' movement.

    ``moves_db`` are the levels every ``step_s``, without what moves slowly; ``swing`` is the complex amplitude of each octave in dB, and
    ``hits`` the power of the hits' own line over chance, at each of ``hz``.
    """

    moves_db: Floats
    step_s: float
    hz: Floats
    swing: NDArray[np.complex128]
    hits: Floats
    width_hz: float

    @property
    def common(self) -> Floats:
        """The amplitude that most octaves share, in dB."""
        return np.asarray(np.hypot(np.median(self.swing.real, axis=1), np.median(self.swing.imag, axis=1)))

    def around(self, reach_hz: float) -> int:
        return max(round(reach_hz / float(self.hz[1] - self.hz[0])), 1)


@measurement
def measure_pulses(trace: HitTrace) -> Pulses:
    """Find the strongest pulse that does not follow the hits.

    Notes
    -----
    Levels of what sustains in the octaves from 250 Hz to 16 kHz, every 23 ms, without what moves slower than 2.5 s, windowed (Hann) and
    transformed: a gain with a period of its own leaves one sharp line at the same place, height and phase in all octaves. The height is the
    median of the octaves', as a complex number; `alike` is that over the mean height, 1 where all agree. It counts where it stands
    5 times above the median of the lines within 0.75 Hz. Music has such lines too, where its hits have them: at the step that the hits
    keep (the fastest of the strongest lines of their times) times any sixteenth or twelfth, at which a pattern of a bar repeats. Those, and
    lines that the hits show, are left out, so a pulse in time with the song is not told. A rhythm that changes from part to part leaves
    lines beside its own place; `steady` shows them: in pieces of 8 s the swing must keep height and phase. Own definition, no source.
    """
    if trace.duration_s < SHORTEST_S:
        return _absent(f"the song is shorter than {SHORTEST_S:.0f} s")
    lines = _lines(trace)
    if lines is None:
        return _absent("nothing sustains above 250 Hz")
    common = lines.common
    out = common / (_median_around(common, lines.around(NEAR_HZ)) + LEAST_DB)
    possible = _highest(common, lines.around(APART_WIDTHS * lines.width_hz)) & ~_of_the_hits(lines) & (out >= LEAST_OUT)
    inside = (lines.hz >= 1.0 / PERIODS_S[1]) & (lines.hz <= 1.0 / PERIODS_S[0])
    places = np.flatnonzero(possible & inside)
    if not places.size:
        return _absent("no pulse stands out that the hits do not have")
    best = [_lowest(int(place), common, out) for place in places[np.argsort(-out[places])[:BEST]]]
    steady = {place: _steady(lines, place) for place in best}
    place = max(best, key=lambda line: out[line] * steady[line])
    alike = min(float(common[place] / np.abs(lines.swing[place]).mean()), 1.0)
    return Pulses(float(1.0 / lines.hz[place]), float(2.0 * common[place]), alike, steady[place], float(out[place]))


def _absent(reason: str) -> Pulses:
    names = ("period_s", "swing_db", "alike", "steady", "stands_out")
    return Pulses(None, None, None, None, None, absent=tuple(Absence(name, reason) for name in names))


def _lines(trace: HitTrace) -> _Lines | None:
    count = len(trace.high_sustained) // STEP_FRAMES
    power = np.maximum(trace.high_sustained[: count * STEP_FRAMES], np.float32(1e-15))
    level_db = (10.0 * np.log10(power)).reshape(count, STEP_FRAMES, -1).mean(axis=1, dtype=np.float64)
    top_db = np.quantile(level_db, 0.9, axis=0)
    used = (top_db > top_db.max() - SOUNDS_DB) & (top_db > -110.0)
    if not used.any():
        return None
    step_s = trace.hop_s * STEP_FRAMES
    moves_db = _without_slow(np.maximum(level_db[:, used], top_db[used] - FLOOR_DB), step_s)
    window = np.hanning(count)
    size = 1 << int(np.ceil(np.log2(count * FINER)))
    hz = np.fft.rfftfreq(size, step_s)
    struck = np.clip(trace.starts // STEP_FRAMES, 0, count - 1)
    hits = np.abs(np.fft.rfft(np.bincount(struck, window[struck], count), size)) ** 2 / max(float((window[struck] ** 2).sum()), 1e-9)
    swing = np.fft.rfft(moves_db * window[:, None], size, axis=0) * 2.0 / window.sum()
    return _Lines(moves_db, step_s, np.asarray(hz, np.float64), swing, np.asarray(hits), 1.0 / trace.duration_s)


def _without_slow(level_db: Floats, step_s: float) -> Floats:
    width = min(round(SLOW_S / step_s) | 1, 2 * (len(level_db) // 2) - 1)
    smooth = np.hanning(width) / np.hanning(width).sum()
    return np.stack([band - np.convolve(band, smooth, "same") for band in level_db.T], axis=1)


def _median_around(values: Floats, reach: int) -> Floats:
    """Return the median within ``reach`` places either side; read every few places, since it changes slowly."""
    places = np.arange(0, len(values), max(reach // 8, 1))
    medians = [np.median(values[max(place - reach, 0) : place + reach + 1]) for place in places]
    return np.asarray(np.interp(np.arange(len(values)), places, medians))


def _highest(values: Floats, reach: int) -> NDArray[np.bool_]:
    """Return where a value is the highest within ``reach`` places either side."""
    padded = np.pad(values, reach, constant_values=-1.0)
    return np.asarray(values >= np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).max(axis=1))


def _of_the_hits(lines: _Lines) -> NDArray[np.bool_]:
    """Return which lines belong to the song's own time: the hits have them, or they lie on a division of the step that the hits keep."""
    theirs = lines.hits > HITS_TOO
    inside = (lines.hz >= GRID_HZ[0]) & (lines.hz <= GRID_HZ[1])
    power, hz = lines.hits[inside], lines.hz[inside]
    if power.max() < STEADY:
        return np.asarray(theirs)
    fastest = np.flatnonzero(power >= AS_STRONG * power.max())[-1]
    near = slice(max(fastest - FINER, 0), fastest + 1)
    step_hz = float(hz[near][np.argmax(power[near])])
    while step_hz > FOLDED_HZ:
        step_hz /= 2.0
    for division in DIVISIONS:
        spacing = step_hz / division
        theirs |= np.abs(lines.hz - np.round(lines.hz / spacing) * spacing) < max(ON_GRID_WIDTHS * lines.width_hz, ON_GRID_HZ)
    return np.asarray(theirs)


def _lowest(place: int, common: Floats, out: Floats) -> int:
    """Return the line that this one is an overtone of, where there is one that is stronger."""
    for whole in WHOLES:
        below = round(place / whole)
        near = slice(max(below - FINER // 2, 0), below + FINER // 2 + 1)
        lower = near.start + int(np.argmax(common[near]))
        if common[lower] > common[place] and out[lower] >= LEAST_OUT:
            return lower
    return place


def _steady(lines: _Lines, place: int) -> float:
    """Return how far a pulse keeps its height and phase from piece to piece, 0-1.

    That is the lowest swing in the common phase, but for one piece of five, over the median, times the length of the mean of all but the
    worst piece over their mean length.
    """
    times_s = np.arange(len(lines.moves_db)) * lines.step_s
    turned = lines.moves_db * np.exp(-2j * np.pi * lines.hz[place] * times_s)[:, None]
    count = min(max(int(times_s[-1] / PIECE_S), 2), MOST_PIECES)
    pieces = np.array([np.hanning(len(piece)) @ piece / np.hanning(len(piece)).sum() for piece in np.array_split(turned, count)])
    swings = np.median(pieces.real, axis=1) + 1j * np.median(pieces.imag, axis=1)
    phase = swings.mean() / max(abs(swings.mean()), 1e-12)
    along = (swings * np.conj(phase)).real
    kept = swings[np.argsort(along)[1:]]
    low, middle = np.sort(along)[len(along) // 5], float(np.median(along))
    if middle <= 0.0:
        return 0.0
    return float(np.clip(low / middle, 0.0, 1.0) * abs(kept.mean()) / np.abs(kept).mean())
