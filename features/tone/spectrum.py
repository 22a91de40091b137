"""Long-term spectral balance.

Third-octave curves of the song and of its parts, tilt, and where each band stands out.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from features.hits.separation import PartCurves
from features.records.base import Absence, Course, Span
from features.records.spectrum import Spectrum
from features.sound.bands import a_weighting, third_octaves
from features.sound.decibels import powers_to_db
from features.sound.measurement import measurement
from features.sound.spectrogram import Spectrogram
from features.sound.windows import moving_mean
from features.tone.resonance import find_resonances

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

MIDDLE_HZ = (190.0, 5100.0)  # holds the bands 200 Hz to 5 kHz: the reference of every curve
TILT_HZ = (95.0, 10500.0)  # holds the bands 100 Hz to 10 kHz
SILENCE_DB = -70.0  # absolute gate, as in ITU-R BS.1770-5
RELATIVE_GATE_DB = -10.0
CURVE_FLOOR_DB = -120.0
BLOCK_S = 0.4
LOUDEST_S = 5.0
TILT_WINDOW_S = 3.0
HALVES_NEED_S = 10.0


def frame_power(spectrogram: Spectrogram) -> Floats:
    """Return the A-weighted power around each frame.

    IEC 61672-1, both channels, meaned over 0.4 s, shape ``(frames,)``.
    """
    weights = 10 ** (a_weighting(spectrogram.band_hz) / 10)
    width = max(round(BLOCK_S / spectrogram.hop_s), 1) | 1
    return moving_mean(spectrogram.both().astype(np.float64) @ weights, width)


def active_frames(power: Floats) -> Mask:
    """Tell the frames in which the song plays.

    Within 10 dB of its mean power, gated twice as in ITU-R BS.1770-5.

    Examples
    --------
    >>> active_frames(np.array([1e-9, 1e-4, 1e-2, 1e-2])).tolist()
    [False, False, True, True]
    """
    audible = power > 10 ** (SILENCE_DB / 10)
    if not audible.any():
        return audible
    gated: Mask = power > 10 ** (RELATIVE_GATE_DB / 10) * np.mean(power[audible])
    return gated


def middle_mean(curve_db: Floats, band_hz: Floats) -> float:
    """Return a curve's mean from 200 Hz to 5 kHz.

    In dB over the bands: what every curve is relative to.
    """
    middle = (band_hz > MIDDLE_HZ[0]) & (band_hz < MIDDLE_HZ[1])
    return float(np.mean(curve_db[middle]))


def tilt_weights(band_hz: Floats) -> Floats | None:
    """Return the weights that give a curve's slope.

    Their dot product with a curve in dB is its least-squares slope in dB per octave.
    Over log2 frequency, 100 Hz-10 kHz, shape ``(bands,)``; ``None`` when the bands do not reach 10 kHz.
    """
    inside = (band_hz > TILT_HZ[0]) & (band_hz < TILT_HZ[1])
    if band_hz[-1] < 9900:
        return None
    octave = np.where(inside, np.log2(band_hz / 1000), 0)
    centred = np.where(inside, octave - np.mean(octave[inside]), 0)
    weights: Floats = centred / np.sum(centred**2)
    return weights


@dataclass(slots=True)
class _SongPowers:
    """One song's powers with what all curves need; absences are gathered as they are met."""

    spectrogram: Spectrogram
    power: Floats
    active: Mask
    both: Floats
    absent: list[Absence] = field(default_factory=list)

    @property
    def band_hz(self) -> Floats:
        return self.spectrogram.band_hz

    def density_db(self, power: Floats) -> Floats:
        """Power per Hz in dB, for band powers of any shape ``(..., bands)``."""
        return powers_to_db(power / third_octaves(self.spectrogram.rate_hz).width_hz)

    def curve(self, power: Floats, reference_db: float | None = None) -> tuple[float, ...]:
        """Curve of band powers relative to ``reference_db``, or to its own mean over 200 Hz-5 kHz."""
        density = self.density_db(power)
        relative = density - (middle_mean(density, self.band_hz) if reference_db is None else reference_db)
        return tuple(float(value) for value in np.maximum(relative, CURVE_FLOOR_DB))

    def miss(self, name: str, reason: str) -> None:
        self.absent.append(Absence(name, reason))


@measurement
def measure_spectrum(spectrogram: Spectrogram, parts: PartCurves | None = None) -> Spectrum:
    """Measure the long-term spectrum of the passages that count.

    Gated as in ITU-R BS.1770-5, A-weighted.

    Parameters
    ----------
    spectrogram
        The whole song.
    parts
        Mean band powers of the percussive and the sustained part, in the same bands; without them those curves are absent.

    Returns
    -------
    Spectrum
        Powers per Hz of the mean of both channels, in dB. A silent song has empty curves, and says so in ``absent``.
    """
    power = frame_power(spectrogram)
    powers = _SongPowers(spectrogram, power, active_frames(power), spectrogram.both().astype(np.float64))
    if not powers.active.any():
        return _silent(spectrogram)
    mean_power = powers.both[powers.active].mean(axis=0)
    level_db = middle_mean(powers.density_db(mean_power), powers.band_hz)
    curve = powers.curve(mean_power, level_db)
    weights = tilt_weights(powers.band_hz)
    if weights is None:
        powers.miss("tilt_db_per_octave", "the sampling rate does not reach 10 kHz")
    mid = spectrogram.mid()[powers.active].mean(axis=0, dtype=np.float64)
    percussive, sustained = _part_curves(powers, parts)
    dense, quiet = _halves(powers)
    return Spectrum(
        third_octave_hz=tuple(float(value) for value in powers.band_hz),
        third_octave_db=curve,
        mid_db=powers.curve(mid, level_db),
        side_db=_side(powers, level_db),
        percussive_db=percussive,
        sustained_db=sustained,
        dense_db=dense,
        quiet_db=quiet,
        band_loudest=_band_loudest(powers),
        tilt_db_per_octave=None if weights is None else float(np.dot(weights, curve)),
        tilt=_tilt_course(powers, weights),
        resonances=find_resonances(spectrogram, powers.active),
        level_db=level_db,
        absent=tuple(powers.absent),
    )


def _silent(spectrogram: Spectrogram) -> Spectrum:
    reason = "the song is silent"
    names = (
        "third_octave_db",
        "mid_db",
        "side_db",
        "percussive_db",
        "sustained_db",
        "dense_db",
        "quiet_db",
        "tilt_db_per_octave",
        "level_db",
    )
    return Spectrum(
        third_octave_hz=tuple(float(value) for value in spectrogram.band_hz),
        third_octave_db=(),
        mid_db=(),
        side_db=None,
        percussive_db=None,
        sustained_db=None,
        dense_db=None,
        quiet_db=None,
        band_loudest=(),
        tilt_db_per_octave=None,
        tilt=Course("dB/oct", 0.0, 1.0, ()),
        resonances=(),
        level_db=None,
        absent=tuple(Absence(name, reason) for name in names),
    )


def _side(powers: _SongPowers, level_db: float) -> tuple[float, ...] | None:
    if powers.spectrogram.channels == 1:
        powers.miss("side_db", "the song is mono")
        return None
    return powers.curve(powers.spectrogram.side()[powers.active].mean(axis=0, dtype=np.float64), level_db)


def _part_curves(powers: _SongPowers, parts: PartCurves | None) -> tuple[tuple[float, ...] | None, tuple[float, ...] | None]:
    curves: list[tuple[float, ...] | None] = []
    for name in ("percussive", "sustained"):
        power = None if parts is None else np.asarray(getattr(parts, name), np.float64)
        if power is None:
            powers.miss(f"{name}_db", "the song was not separated into parts")
        elif not np.any(power > 0):
            powers.miss(f"{name}_db", f"the song has no {name} part")
            power = None
        curves.append(None if power is None else powers.curve(power))
    return curves[0], curves[1]


def _halves(powers: _SongPowers) -> tuple[tuple[float, ...] | None, tuple[float, ...] | None]:
    """Return the curves of the louder and of the quieter half of the active time, split by the level of 3 s."""
    if np.count_nonzero(powers.active) * powers.spectrogram.hop_s < HALVES_NEED_S:
        powers.miss("dense_db", "the song is too short to halve")
        powers.miss("quiet_db", "the song is too short to halve")
        return None, None
    level = moving_mean(powers.power, round(3.0 / powers.spectrogram.hop_s))[powers.active]
    order = np.argsort(level, kind="stable")
    active = powers.both[powers.active]
    half = len(order) // 2
    return powers.curve(active[order[half:]].mean(axis=0)), powers.curve(active[order[:half]].mean(axis=0))


def _windows(powers: _SongPowers, window_s: float, at: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Return mean active power in windows around the frames ``at``, ``(len(at), bands)``, and the share of active frames."""
    width = max(min(round(window_s / powers.spectrogram.hop_s), len(powers.active)), 1)
    share = moving_mean(powers.active.astype(np.float64), width, at)
    power = moving_mean(powers.both * powers.active[:, None], width, at)
    return power / np.maximum(share, 1e-9)[:, None], share


def _band_loudest(powers: _SongPowers) -> tuple[Span, ...]:
    """Return the 5 s in which each band stands highest against the mean of 200 Hz-5 kHz, among windows at least half active."""
    frames = np.arange(0, len(powers.active), max(round(0.25 / powers.spectrogram.hop_s), 1))
    power, share = _windows(powers, LOUDEST_S, frames)
    density = powers.density_db(power)
    middle = (powers.band_hz > MIDDLE_HZ[0]) & (powers.band_hz < MIDDLE_HZ[1])
    height = density - density[:, middle].mean(axis=1, keepdims=True)
    height[share < min(0.5, float(share.max()))] = -np.inf
    spans = []
    for frame in frames[np.argmax(height, axis=0)]:
        centre_s = (frame + 0.5) * powers.spectrogram.hop_s
        last_start = max(powers.spectrogram.duration_s - LOUDEST_S, 0.0)
        start = float(np.clip(centre_s - LOUDEST_S / 2, 0.0, last_start))
        spans.append(Span(start, min(start + LOUDEST_S, powers.spectrogram.duration_s)))
    return tuple(spans)


def _tilt_course(powers: _SongPowers, weights: Floats | None) -> Course:
    """Return the slope of 3 s windows around each full second; ``None`` where less than a third of the window plays."""
    if weights is None:
        return Course("dB/oct", 0.0, 1.0, ())
    seconds = np.arange(int(powers.spectrogram.duration_s) + 1)
    frames = np.clip(np.round(seconds / powers.spectrogram.hop_s - 0.5).astype(np.intp), 0, len(powers.active) - 1)
    power, share = _windows(powers, TILT_WINDOW_S, frames)
    slopes = powers.density_db(power) @ weights
    values = tuple(float(slope) if playing > 1 / 3 else None for slope, playing in zip(slopes, share, strict=True))
    return Course("dB/oct", 0.0, 1.0, values)
