"""Numbers that tell an element again in the next bounce.

Levels are as it stands in the mix, in dB with full scale = 0, in hundredths.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from features.elements.steps import CURVE_FRAMES, STEP_S

if TYPE_CHECKING:
    from features.elements.meter import ElementTrace

Floats = NDArray[np.float64]

STEPS, CURVES = 2, 16  # of the trace in one of ours
COURSE_STEP_S = STEPS * STEP_S
FLOOR_DB = -160.0


@dataclass(frozen=True, slots=True)
class Fingerprint:
    """An element's level and spectrum along the song.

    Attributes
    ----------
    name
        The element's name.
    course_db
        K-weighted level of every 0.2 s.
    block_s
        Length of a block of the song.
    spectra_db
        Levels in third octaves, one row for each block.
    sides_db
        Level of the left and of the right channel over the whole song, in the ear's bands.
    """

    name: str
    course_db: tuple[float, ...]
    block_s: float
    spectra_db: tuple[tuple[float, ...], ...]
    sides_db: tuple[tuple[float, ...], tuple[float, ...]]

    @property
    def silent(self) -> bool:
        """Whether it holds no sound."""
        return max(self.course_db, default=FLOOR_DB) <= FLOOR_DB


def fingerprint_of(name: str, trace: "ElementTrace") -> Fingerprint:
    """Return what is kept of an element.

    Examples
    --------
    >>> from features.elements.meter import trace_of
    >>> from features.sound.signal import Signal
    >>> sound = Signal(np.full((1, 44100), 0.1, np.float32), 44100)
    >>> len(fingerprint_of("tone", trace_of(sound)).course_db)
    5
    """
    spectra = _means(np.asarray(trace.thirds, np.float64), CURVES)
    return Fingerprint(
        name,
        _in_db(_means(np.asarray(trace.k_energy, np.float64), STEPS)),
        CURVES * CURVE_FRAMES * trace.hop_s,
        tuple(_in_db(row) for row in spectra),
        (_in_db(_over_the_song(trace.left)), _in_db(_over_the_song(trace.right))),
    )


def _over_the_song(powers: NDArray[np.float32]) -> Floats:
    return np.asarray(powers.mean(axis=0, dtype=np.float64) if len(powers) else np.zeros(powers.shape[1]), np.float64)


def _means(values: Floats, count: int) -> Floats:
    edges = np.arange(0, len(values), count)
    if not edges.size:
        return values
    sums: Floats = np.add.reduceat(values, edges, axis=0)
    sizes = np.diff(np.append(edges, len(values))).reshape(-1, *(1,) * (values.ndim - 1))
    return sums / sizes


def _in_db(powers: Floats) -> tuple[float, ...]:
    levels = 10.0 * np.log10(np.maximum(powers, 10.0 ** (FLOOR_DB / 10.0)))
    return tuple(np.round(levels, 2).tolist())
