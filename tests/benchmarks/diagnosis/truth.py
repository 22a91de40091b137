"""What a plant really did to the sound, read with numpy, scipy and pyloudnorm alone: whether a new accusation is true of the planted song.

A fault changes more than what it is named after: with the drums 13 LU under the rest a mix is darker as well, and where the kick was the
low end's middle, its lows are wider. Whoever says so of the planted song says nothing false, though it has one cause. A new accusation
counts as brought about when the quantity it speaks of moved the accused way by what is heard: 1.5 dB of tone or width (Toole and Olive
1988, bells of Q 1), 1 dB of level (Jesteadt et al. 1977). Everything else is false: a reading that stood beside its limit, a wrong place, a
wrong element.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pyloudnorm
from scipy import signal

from rules.base import Finding
from tests.benchmarks.diagnosis.faults import centre_of
from tests.benchmarks.diagnosis.planted_sound import Floats, db

FRAME = 16384
LEAST_TONE_DB, LEAST_LEVEL_DB = 1.5, 1.0
MIDDLE_HZ = (200.0, 5000.0)
BLOCK_S = 0.05
ORDINARY = 95.0  # percentile of the blocks' peaks
FAINT = 1e-15


@dataclass(frozen=True, slots=True)
class Sketch:
    """A mix in few numbers: power spectra of shape ``(FRAME / 2 + 1,)`` of mid, side, left and right; levels in dB."""

    hz: Floats
    mid: Floats
    side: Floats
    left: Floats
    right: Floats
    peak_db: float
    ordinary_peak_db: float
    loudness_lufs: float

    def level_db(self, low_hz: float, high_hz: float) -> float:
        """Return the level of a band against the middle of the spectrum."""
        return self._power_db(self.mid + self.side, low_hz, high_hz) - self._power_db(self.mid + self.side, *MIDDLE_HZ)

    def width_db(self, low_hz: float = 0.0, high_hz: float = np.inf) -> float:
        """Return the side signal against the mid signal in a band."""
        return self._power_db(self.side, low_hz, high_hz) - self._power_db(self.mid, low_hz, high_hz)

    def lean_db(self) -> float:
        """Return how far one side is stronger."""
        return abs(self._power_db(self.left, 0.0, np.inf) - self._power_db(self.right, 0.0, np.inf))

    def _power_db(self, spectrum: Floats, low_hz: float, high_hz: float) -> float:
        inside = (self.hz >= low_hz) & (self.hz <= high_hz)
        return db(float(np.sum(spectrum[inside])) + FAINT) / 2.0


def sketch(samples: Floats, rate_hz: int) -> Sketch:
    """Draw a mix of shape ``(frames, 2)``; its gain does not matter to what is compared."""
    left, right = samples[:, 0], samples[:, 1]
    hz, spectra = signal.welch(np.stack(((left + right) / 2, (left - right) / 2, left, right)), rate_hz, nperseg=FRAME)
    length = round(BLOCK_S * rate_hz)
    blocks = np.abs(samples).max(axis=1)[: len(samples) // length * length].reshape(-1, length).max(axis=1)
    mid, side, first, second = spectra
    return Sketch(
        hz, mid, side, first, second, db(float(blocks.max()) + FAINT), db(float(np.percentile(blocks, ORDINARY)) + FAINT),
        float(pyloudnorm.Meter(rate_hz).integrated_loudness(samples)),
    )  # fmt: skip


def around(drawn: Sketch, hz: float, octaves: float) -> float:
    """Return the level of a band as wide as twice ``octaves`` around a frequency."""
    return drawn.level_db(hz * 2.0**-octaves, hz * 2.0**octaves)


def place(finding: Finding) -> float:
    """Return where a finding is; 0 Hz, where nothing is, without a place."""
    return centre_of(finding) or 0.0


Quantity = Callable[[Sketch, Finding], float]
TONE: Mapping[str, Quantity] = {
    "broad_excess": lambda sketch, its: around(sketch, place(its), 1 / 3),
    "broad_lack": lambda sketch, its: -around(sketch, place(its), 1 / 3),
    "resonance": lambda sketch, its: around(sketch, place(its), 1 / 24) - around(sketch, place(its), 1 / 2),
    "ear_band_too_strong": lambda sketch, _: sketch.level_db(2000.0, 5000.0),
    "harsh_moments": lambda sketch, _: sketch.level_db(2000.0, 5000.0),
    "ear_band_too_weak": lambda sketch, _: -sketch.level_db(2000.0, 5000.0),
    "too_dark": lambda sketch, _: sketch.level_db(100.0, 400.0) - sketch.level_db(2500.0, 10000.0),
    "too_bright": lambda sketch, _: sketch.level_db(2500.0, 10000.0) - sketch.level_db(100.0, 400.0),
    "sub_excess": lambda sketch, _: sketch.level_db(20.0, 60.0),
    "sub_lack": lambda sketch, _: -sketch.level_db(20.0, 60.0),
    "low_end_too_wide": lambda sketch, _: sketch.width_db(20.0, 150.0),
    "band_too_wide": lambda sketch, its: sketch.width_db(place(its) / 2**0.5, place(its) * 2**0.5),
    "mono_loss": lambda sketch, _: sketch.width_db(),
    "almost_mono": lambda sketch, _: -sketch.width_db(),
}
LEVEL: Mapping[str, Quantity] = {
    "left_right_imbalance": lambda sketch, _: sketch.lean_db(),
    "stray_peaks": lambda sketch, _: sketch.peak_db - sketch.ordinary_peak_db,
    "short_of_target": lambda sketch, _: sketch.peak_db - sketch.loudness_lufs,
    "too_dense": lambda sketch, _: sketch.loudness_lufs - sketch.peak_db,
    "limiter_already_working": lambda sketch, _: sketch.loudness_lufs - sketch.peak_db,
}


def brought_about(rule: str, finding: Finding, before: Sketch, after: Sketch) -> bool:
    """Whether the plant moved what a finding speaks of, the accused way and audibly; rules not listed here are never excused."""
    for quantities, least_db in ((TONE, LEAST_TONE_DB), (LEVEL, LEAST_LEVEL_DB)):
        if rule in quantities:
            return quantities[rule](after, finding) - quantities[rule](before, finding) >= least_db
    return False
