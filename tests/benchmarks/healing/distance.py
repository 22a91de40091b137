"""How far a mix lies from the song before the fault, measured by scipy and another library's loudness, at matched loudness.

Four readings in dB: octave levels; levels of elements; the stereo picture (left against right, and half of side against mid, in every
octave); the highest peaks. They are heard apart, so their squares add up; peaks count only where the fault is one of peaks.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

import numpy as np
import pyloudnorm
from numpy.typing import NDArray
from scipy import signal

from tests.benchmarks.plans.planting import Floats

OCTAVES_HZ = 31.25 * 2.0 ** np.arange(10)
FLOOR_DB = -50.0  # octaves softer than this against the loudest are left out
PICTURE_MOST_DB = 20.0  # a channel this far below another is hardly heard beside it
WIDTH_COUNTS = 0.5  # width is heard less finely than place
SILENT_LU = -70.0
PEAKS = 10
FRAMES = 8192
RIDGE = 1e-3


Spectra = NDArray[np.complex64]


@dataclass(frozen=True, slots=True)
class Reading:
    """Octave levels, picture (2 rows) and peaks in dB against the loudness; elements in LU against the mix."""

    octaves_db: Floats
    picture_db: Floats
    peaks_db: Floats
    elements_lu: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Distance:
    """How far one reading lies from another, root mean squares in dB."""

    tone_db: float
    levels_db: float
    picture_db: float
    peaks_db: float

    def total(self, *, peaks: bool) -> float:
        """Return all of it, in steps of a decibel."""
        return hypot(self.tone_db, self.levels_db, self.picture_db, self.peaks_db if peaks else 0.0)


def loudness(samples: Floats, rate_hz: int) -> float:
    """Return integrated loudness in LUFS, that of silence cut at -70."""
    if not np.any(samples):
        return SILENT_LU
    return max(float(pyloudnorm.Meter(rate_hz).integrated_loudness(samples)), SILENT_LU)


def decibels(power: Floats) -> Floats:
    return 10 * np.log10(np.maximum(power, 1e-20))


def octave_powers(samples: Floats, rate_hz: int) -> Floats:
    """Return the power of every octave of the columns, shape ``(octaves, columns)``."""
    hz, density = signal.welch(samples, rate_hz, nperseg=FRAMES, noverlap=0, axis=0)
    edges = zip(OCTAVES_HZ / np.sqrt(2), OCTAVES_HZ * np.sqrt(2), strict=True)
    return np.array([density[(hz >= low) & (hz < high)].sum(axis=0) * hz[1] for low, high in edges])


def read(mix: Floats, rate_hz: int, elements_lu: Mapping[str, float]) -> Reading:
    """Read a stereo mix of shape ``(frames, 2)``."""
    left, right = mix.T
    signals = np.stack((left, right, (left + right) / np.sqrt(2), (left - right) / np.sqrt(2)), axis=1)
    powers = octave_powers(signals, rate_hz)
    whole = powers[:, 0] + powers[:, 1]
    level = loudness(mix, rate_hz)
    seconds = np.abs(mix).max(axis=1)[: len(mix) // rate_hz * rate_hz].reshape(-1, rate_hz).max(axis=1)
    return Reading(
        octaves_db=decibels(whole) - level,
        picture_db=np.stack((_against(powers[:, 0], powers[:, 1]), WIDTH_COUNTS * _against(powers[:, 3], powers[:, 2]))),
        peaks_db=2 * decibels(np.sort(seconds)[::-1][:PEAKS]) - level,
        elements_lu=elements_lu,
    )


def _against(power: Floats, other: Floats) -> Floats:
    return np.clip(decibels(power) - decibels(other), -PICTURE_MOST_DB, PICTURE_MOST_DB)


def element_levels(stems: Mapping[str, Floats], mix: Floats, rate_hz: int) -> dict[str, float]:
    """Return the loudness of every element against the mix, in LU."""
    level = loudness(mix, rate_hz)
    return {name: loudness(samples, rate_hz) - level for name, samples in stems.items()}


@dataclass(frozen=True, slots=True)
class Basis:
    """A song's stems in spectra, shape ``(stems, values)`` for each octave, with their loudness in LUFS."""

    octaves: tuple[Spectra, ...]
    lufs: Mapping[str, float]

    @classmethod
    def of(cls, stems: Mapping[str, Floats], rate_hz: int) -> "Basis":
        """Return the basis that stems make."""
        spectra = [_octaves(samples, rate_hz) for samples in stems.values()]
        octaves = tuple(np.array(octave) for octave in zip(*spectra, strict=True))
        return cls(octaves, {name: loudness(samples, rate_hz) for name, samples in stems.items()})

    def levels(self, mix: Floats, rate_hz: int) -> dict[str, float]:
        """Return the loudness of every element within a mix that was changed as a whole, in LU against it.

        Every octave of the mix is laid on those of the stems by least squares; what lies on none of them is left out.
        """
        before, after = np.zeros(len(self.lufs)), np.zeros(len(self.lufs))
        for parts, wanted in zip(self.octaves, _octaves(mix, rate_hz), strict=True):
            gram = np.real(parts.conj() @ parts.T).astype(np.float64)
            ridge = (RIDGE * float(np.trace(gram)) / len(gram) + 1e-20) * np.eye(len(gram))
            gains = np.linalg.solve(gram + ridge, np.real(parts.conj() @ wanted) + ridge @ np.ones(len(gram)))
            before += np.diag(gram)
            after += gains**2 * np.diag(gram)
        level, moved = loudness(mix, rate_hz), decibels(after) - decibels(before)
        return {name: max(lufs + float(moved[place]), SILENT_LU) - level for place, (name, lufs) in enumerate(self.lufs.items())}


def _octaves(samples: Floats, rate_hz: int) -> list[Spectra]:
    """Return the short spectra of every octave but the lowest, laid out in a row."""
    _, _, spectrum = signal.stft(samples.T.astype(np.float32), rate_hz, nperseg=FRAMES // 4, noverlap=0, window="boxcar", boundary=None)
    hz = np.fft.rfftfreq(FRAMES // 4, 1 / rate_hz)
    bands = ((hz >= centre / np.sqrt(2)) & (hz < centre * np.sqrt(2)) for centre in OCTAVES_HZ[1:])
    return [np.asarray(spectrum[:, band].ravel(), np.complex64) for band in bands]


def apart(before: Reading, after: Reading) -> Distance:
    """Return how far ``after`` lies from ``before``; octaves that are silent in ``before`` are left out."""
    sounding = before.octaves_db > before.octaves_db.max() + FLOOR_DB
    names = before.elements_lu.keys() & after.elements_lu.keys()
    return Distance(
        tone_db=_rms((after.octaves_db - before.octaves_db)[sounding]),
        levels_db=_rms(np.array([after.elements_lu[name] - before.elements_lu[name] for name in sorted(names)])),
        picture_db=hypot(*(_rms(row[sounding]) for row in after.picture_db - before.picture_db)),
        peaks_db=_rms(after.peaks_db - before.peaks_db),
    )


def _rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2))) if len(values) else 0.0
