"""Octave levels, to compare a song with itself.

After a change.
"""

import numpy as np
from numpy.typing import NDArray

from features.records.spectrum import Spectrum
from features.sound.decibels import powers_to_db

Floats = NDArray[np.float64]

THIRDS = 3
FLOOR_DB = -60.0  # under the strongest octave nothing is heard of another


def octave_levels(spectrum: Spectrum) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return centres and levels of the octaves.

    From 31.5 Hz to 16 kHz, as far as the rate allows.

    Levels are power (not per Hz) in dBFS of the passages that count, none lower than 60 dB under the strongest; a silent song has none.
    """
    if spectrum.level_db is None:
        return (), ()
    hz = np.array(spectrum.third_octave_hz[1:])
    count = len(hz) // THIRDS * THIRDS
    density = np.array(spectrum.third_octave_db[1 : count + 1]) + spectrum.level_db
    width = (10**0.05 - 10**-0.05) * hz[:count]  # of a third octave (IEC 61260-1)
    power = (10 ** (density / 10) * width).reshape(-1, THIRDS).sum(axis=1)
    levels = powers_to_db(power)
    levels = np.maximum(levels, levels.max() + FLOOR_DB)
    return tuple(hz[1:count:THIRDS].tolist()), tuple(levels.tolist())
