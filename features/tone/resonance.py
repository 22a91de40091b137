"""Narrow peaks of the spectrum that belong to the sound.

They do not belong to a note: a ringing room, a body, a filter turned up.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.records.base import Span
from features.records.spectrum import Resonance
from features.sound.decibels import powers_to_db
from features.sound.spectrogram import Spectrogram

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

SEARCH_HZ = (100.0, 12000.0)  # below, one twelfth of an octave is narrower than an FFT bin
SURROUND = (3, 8)  # twelfths of an octave to either side that a peak is held against
LEAST_PROMINENCE_DB = 4.0
LEAST_OVER_EITHER_SIDE_DB = 2.5  # a shelf's edge is no peak
CLIFF_DB = 24.0  # from side to side: the shoulder of a wall is no peak either
PRESENT_DB = 3.0
LEAST_PRESENT_SHARE = 0.6
MOST_UNSTEADY_DB = 6.0
LEAST_FOLLOWING = 0.7
ALWAYS_PRESENT_SHARE, OWN_UNREST = 0.9, 1.3  # of its neighbours' unrest: a little more comes from the notes that it lifts
BROADEST_NOTE_Q = 25.0  # what is broader, is no single note
AROUND = 12  # twelfths of an octave to either side whose unsteadiness is the song's own
LEAST_LOUD_PROMINENCE_DB = 3.0
LINE_BINS = 5.0  # a pure tone comes out this wide: what is no wider may be a note
AT_MOST = 8
SPAN_S = 5.0
CHUNK_FRAMES = 4096


@dataclass(frozen=True, slots=True)
class _Peak:
    """A twelfth-octave band that stands out, with its height over its surroundings in every active frame."""

    band: int
    prominence_db: float
    height_db: Floats
    surround_db: Floats
    usual_unsteady_db: float

    @property
    def present_share(self) -> float:
        return float(np.mean(self.height_db > PRESENT_DB))

    @property
    def unsteady_db(self) -> float:
        return float(np.std(self.height_db))

    @property
    def rings(self) -> bool:
        """Whether it is there most of the time, and also when its surroundings are loud, as when drums strike."""
        loud = self.height_db[self.surround_db >= np.quantile(self.surround_db, 0.75)]
        return self.present_share > LEAST_PRESENT_SHARE and float(np.median(loud)) > LEAST_LOUD_PROMINENCE_DB

    @property
    def follows(self) -> bool:
        """Whether it moves with its surroundings (slope 1 in dB) and keeps its height over them, as what a filter lifts does.

        A note comes and goes, or, when held, stays where it is while the rest rises around it.
        """
        spread = self.surround_db - self.surround_db.mean()
        variance = float(np.mean(spread**2))
        following = 1.0 if variance < 0.25 else float(np.mean(spread * (self.height_db + self.surround_db))) / variance
        return self.unsteady_db < max(MOST_UNSTEADY_DB, self.usual_unsteady_db) and following > LEAST_FOLLOWING

    @property
    def stays(self) -> bool:
        """Whether it is always there, and hardly less steady than its neighbours: a filter lifts all, and adds no unrest of its own."""
        return self.present_share > ALWAYS_PRESENT_SHARE and self.unsteady_db <= OWN_UNREST * self.usual_unsteady_db

    def is_resonance(self) -> bool:
        """Tell a resonance from a note; what stays without following must also be broader than a note."""
        return self.rings and (self.follows or self.stays)


def find_resonances(spectrogram: Spectrogram, active: Mask) -> tuple[Resonance, ...]:
    """Find narrow peaks that stay while the notes change.

    Of the long-term spectrum, strongest first, at most 8.

    Parameters
    ----------
    spectrogram
        The whole song.
    active
        The frames in which it plays, shape ``(frames,)``.

    Notes
    -----
    A peak is a twelfth-octave band at least 4 dB above the mean of its surroundings (a quarter to two thirds of an octave to
    either side), present (3 dB or more above them) in more than 60 % of the active frames, with the signs of a filter that
    `_Peak` names: it rings also when the rest is loud, and follows it, or is always there and hardly less steady than its neighbours. A
    note played all song long is kept out, and with it some true resonances, mostly in the low mids, where both look alike:
    docs/target.md says how many planted ones are found.
    """
    frames = np.flatnonzero(active)
    if not len(frames):
        return ()
    curve = _mean_curve(spectrogram, frames)
    candidates = _candidates(curve, spectrogram.detail_hz)
    unsteady_db = _unsteady(spectrogram, frames) if candidates else np.zeros(0)
    peaks = [_peak(spectrogram, frames, curve, band, unsteady_db) for band in candidates]
    standing_out = sorted((peak for peak in peaks if peak.is_resonance()), key=lambda peak: -peak.prominence_db)
    described = (_described(spectrogram, frames, peak) for peak in standing_out)
    return tuple(resonance for resonance in described if resonance is not None)[:AT_MOST]


def _mean_curve(spectrogram: Spectrogram, frames: NDArray[np.intp]) -> Floats:
    total = np.zeros(len(spectrogram.detail_hz))
    for start in range(0, len(frames), CHUNK_FRAMES):
        chunk = spectrogram.detail_db[frames[start : start + CHUNK_FRAMES]].astype(np.float32)
        total += np.sum(10 ** (chunk / 10), axis=0, dtype=np.float64)
    return powers_to_db(total / len(frames))


def _sides(band: int, bands: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    near, far = SURROUND
    offsets = np.arange(near, far + 1)
    low, high = band - offsets, band + offsets
    return low[low >= 0], high[high < bands]


def _unsteady(spectrogram: Spectrogram, frames: NDArray[np.intp]) -> Floats:
    """Return the standard deviation over time of each band's height over its surroundings, in dB."""
    bands = len(spectrogram.detail_hz)
    weight = np.zeros((bands, bands), np.float32)  # what a band's height is made of
    for band in range(bands):
        sides = [side for side in _sides(band, bands) if len(side)]
        weight[band, band] = 1.0
        for side in sides:
            weight[side, band] -= 1.0 / (len(sides) * len(side))
    total, squares = np.zeros(bands), np.zeros(bands)
    for start in range(0, len(frames), CHUNK_FRAMES):
        height = spectrogram.detail_db[frames[start : start + CHUNK_FRAMES]].astype(np.float32) @ weight
        total += height.sum(axis=0, dtype=np.float64)
        squares += np.square(height).sum(axis=0, dtype=np.float64)
    spread: Floats = np.sqrt(np.maximum(squares / len(frames) - (total / len(frames)) ** 2, 0.0))
    return spread


def _candidates(curve: Floats, detail_hz: Floats) -> list[int]:
    """Return the bands that stand highest over their surroundings: on a slope that need not be where the curve is highest."""
    sides = [_sides(band, len(curve)) for band in range(len(curve))]
    means = [tuple(float(np.mean(curve[side])) if len(side) else -np.inf for side in pair) for pair in sides]
    height = np.array([level - np.mean(pair) if min(pair) > -np.inf else -np.inf for level, pair in zip(curve, means, strict=True)])
    peaks = []
    for band in range(1, len(curve) - 1):
        top = height[band] >= max(height[band - 1], height[band + 1])
        if not (top and SEARCH_HZ[0] < detail_hz[band] < SEARCH_HZ[1]):
            continue
        if abs(means[band][0] - means[band][1]) > CLIFF_DB:
            continue
        if height[band] > LEAST_PROMINENCE_DB and curve[band] - max(means[band]) > LEAST_OVER_EITHER_SIDE_DB:
            peaks.append(band)
    return peaks


def _peak(spectrogram: Spectrogram, frames: NDArray[np.intp], curve: Floats, band: int, unsteady_db: Floats) -> _Peak:
    low, high = _sides(band, len(curve))
    levels = spectrogram.detail_db[:, max(band - SURROUND[1], 0) : band + SURROUND[1] + 1][frames].astype(np.float64)
    shift = max(band - SURROUND[1], 0)
    surround = (levels[:, low - shift].mean(axis=1) + levels[:, high - shift].mean(axis=1)) / 2
    height = levels[:, band - shift] - surround
    prominence = float(curve[band] - (np.mean(curve[low]) + np.mean(curve[high])) / 2)
    usual = float(np.median(unsteady_db[max(band - AROUND, 0) : band + AROUND + 1]))
    return _Peak(band, prominence, height, surround, usual)


def _described(spectrogram: Spectrogram, frames: NDArray[np.intp], peak: _Peak) -> Resonance | None:
    frequency_hz, width_hz = _shape(spectrogram, float(spectrogram.detail_hz[peak.band]))
    line = width_hz < LINE_BINS * spectrogram.fine_hz[1]
    if line or (not peak.follows and frequency_hz / width_hz > BROADEST_NOTE_Q):
        return None
    q = float(np.clip(frequency_hz / width_hz, 1.5, 30.0))
    return Resonance(frequency_hz, peak.prominence_db, peak.present_share, q, _where(spectrogram, frames, peak))


def _shape(spectrogram: Spectrogram, near_hz: float) -> tuple[float, float]:
    """Return frequency and width in Hz of the peak near ``near_hz`` from the fine spectrum.

    Smoothed over a 48th of an octave, held against the line between the medians a quarter octave and more away; the width is
    that at half the height in dB, which for a bell filter is its frequency over its Q.
    """
    step = spectrogram.fine_hz[1]
    low, high = (np.array([2**-0.6, 2**0.6]) * near_hz / step).astype(int)
    bins = np.arange(max(low, 1), min(high, len(spectrogram.fine_hz) - 1) + 1)
    power = (spectrogram.fine_left + spectrogram.fine_right)[bins]
    width = max(round(near_hz * 0.0145 / step), 3) | 1
    level = powers_to_db(np.convolve(np.pad(power, width // 2, mode="edge"), np.full(width, 1 / width), mode="valid"))
    octave = np.log2(bins * step / near_hz)
    below, above = float(np.median(level[octave < -0.25])), float(np.median(level[octave > 0.25]))
    height = level - np.interp(octave, [-0.42, 0.42], [below, above])
    top = int(np.argmax(np.where(np.abs(octave) < 1 / 12, height, -np.inf)))
    low_edge, high_edge = _crossing(height, top, -1), _crossing(height, top, 1)
    return float(bins[top] * step), float((high_edge - low_edge) * step)


def _crossing(height: Floats, top: int, direction: int) -> float:
    """Return where the height falls to half, walking from the top, in bins between two bins."""
    half = height[top] / 2
    here = top
    while 0 <= here + direction < len(height):
        if height[here + direction] < half:
            return here + direction * float((height[here] - half) / max(height[here] - height[here + direction], 1e-9))
        here += direction
    return float(here)


def _where(spectrogram: Spectrogram, frames: NDArray[np.intp], peak: _Peak) -> tuple[Span, ...]:
    """Return up to three stretches of 5 s in which the peak stands highest over its surroundings."""
    count = max(int(np.ceil(spectrogram.duration_s / SPAN_S)), 1)
    cell = np.minimum(((frames + 0.5) * spectrogram.hop_s / SPAN_S).astype(int), count - 1)
    total = np.bincount(cell, np.maximum(peak.height_db, 0.0), count)
    highest = sorted(int(number) for number in np.argsort(-total, kind="stable")[:3] if total[number] > 0)
    return tuple(Span(number * SPAN_S, min((number + 1) * SPAN_S, spectrogram.duration_s)) for number in highest)
