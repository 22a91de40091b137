"""How a song's tone lies among others, and its faults.

Its third octaves as a whole, and how much of that is likely a fault.

Songs' own covariance comes with the target (`features.tone.target`, `features.comparison.song_target`); faults are bells and shelves as one
finds them on a mix. A method of our own, tried in a calculation on spectra alone; no published source.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from features.outcomes.likelihood import unlikeliness_nats
from features.outcomes.shrinkage import expected_faults
from features.records.spectrum import Spectrum
from features.tone.matched_filter import Shape, bells, shelves
from features.tone.target import TargetModel

Floats = NDArray[np.float64]

LEAST_BANDS = 12
MOST_DB = 25.0  # what was cut away altogether says no more than this
BELL_SPREAD_DB, SHELF_SPREAD_DB = 6.0, 7.0  # of usual faults
FAULT_SHARE = 0.5  # of the faults' covariance; with all of it songs as their makers left them are moved by 1 dB
BELLS_INSIDE = 1.3  # of the outermost bands: a bell needs something on either side


@dataclass(frozen=True, slots=True)
class Deviation:
    """A song's curve minus the middle of the songs.

    In the bands of their covariance, shape ``(n,)`` and ``(n, n)``, in dB.
    """

    band_hz: Floats
    off_db: Floats
    songs: Floats

    @property
    def free(self) -> Floats:
        """Level, which may differ freely, shape ``(n, 1)``."""
        return np.ones((len(self.off_db), 1))


@dataclass(frozen=True, slots=True)
class ToneFaults:
    """What a song's curve says of faults of tone.

    Attributes
    ----------
    band_hz, expected_db
        The expected fault in each band by the whole deviation at once, shape ``(n,)``; to be taken off.
    """

    band_hz: Floats
    expected_db: Floats


def tone_deviation(spectrum: Spectrum, model: TargetModel) -> Deviation | None:
    """Return how a song's curve lies among the songs.

    None where too few bands are known.
    """
    centre = np.interp(np.log(model.model_hz), np.log(model.record.third_octave_hz), model.record.third_octave_db)
    if model.centre_db is not None:
        centre = model.centre_db
    known = len(spectrum.third_octave_db)
    rows = np.searchsorted(np.array(spectrum.third_octave_hz), model.model_hz * 0.99)
    known_rows = rows < known
    if np.count_nonzero(known_rows) < LEAST_BANDS:
        return None
    off = np.array(spectrum.third_octave_db)[rows[known_rows]] - centre[known_rows]
    off = np.clip(off - np.median(off), -MOST_DB, MOST_DB)
    return Deviation(model.model_hz[known_rows], off, model.covariance[np.ix_(known_rows, known_rows)])


def tone_nats(spectrum: Spectrum, model: TargetModel) -> float | None:
    """Return how unlikely a song's tone is.

    Among the songs of the target; 0 in their middle, None where it is not known.
    """
    deviation = tone_deviation(spectrum, model)
    return None if deviation is None else unlikeliness_nats(deviation.off_db, deviation.songs, deviation.free)


@lru_cache(maxsize=64)
def _shapes(band_hz: tuple[float, ...]) -> tuple[Shape, ...]:
    bands = np.array(band_hz)
    return (*bells(bands, band_hz[0] * BELLS_INSIDE, band_hz[-1] / BELLS_INSIDE), *shelves(bands))


def _spread_db(shape: Shape) -> float:
    return {"bell": BELL_SPREAD_DB, "high_pass": 1.0}.get(shape.kind, SHELF_SPREAD_DB)


def fault_covariance(band_hz: Floats) -> Floats:
    """Return the covariance of one usual fault somewhere.

    Bells of 6 dB at any place and shelves of 7 dB, shape ``(n, n)``.
    """
    shapes = [shape for shape in _shapes(tuple(band_hz.tolist())) if shape.kind != "high_pass"]
    rows = np.array([_spread_db(shape) * shape.template for shape in shapes])
    covariance: Floats = rows.T @ rows / len(rows)
    return covariance


def tone_faults(deviation: Deviation, fault_share: float = FAULT_SHARE) -> ToneFaults:
    """Return what a deviation says of faults of tone.

    Parameters
    ----------
    deviation
        From `tone_deviation`.
    fault_share
        How much of the usual faults' covariance is expected: more closes more of a fault, and moves songs as they are further.
    """
    faults = fault_covariance(deviation.band_hz)
    expected_db = expected_faults(deviation.off_db, deviation.songs, fault_share * faults, deviation.free)
    return ToneFaults(deviation.band_hz, expected_db)
