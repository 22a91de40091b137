"""What a small speaker leaves of a song.

Read off its third octaves.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from features.elements.levels.level_plan import k_response

Floats = NDArray[np.float64]

SPEAKER_HZ = 300.0  # a telephone's or a small set's speaker falls by 12 dB per octave below; common practice, no published source
NOMINAL_RATE_HZ = 48000  # of the weighting, which hardly depends on it


def small_speaker_loss_db(third_octave_hz: Sequence[float], density_db: Sequence[float]) -> float | None:
    """Return how much softer a small speaker plays a song.

    In K-weighted dB; None for a silent one.

    Parameters
    ----------
    third_octave_hz, density_db
        Band centres, and power per Hz in dB up to a constant, as in `Spectrum` and `Target`.

    Notes
    -----
    ``-10 log10(sum S f K H / sum S f K)``, ``H = x^4 / (1 + x^4)``, ``x = f / 300 Hz`` (second-order Butterworth high-pass).

    Examples
    --------
    >>> round(small_speaker_loss_db((300.0,), (0.0,)), 2)
    3.01
    """
    if not density_db:
        return None
    hz = np.array(third_octave_hz[: len(density_db)])
    power = 10 ** (np.array(density_db) / 10) * hz * k_response(hz, NOMINAL_RATE_HZ)
    x = (hz / SPEAKER_HZ) ** 4
    return float(-10 * np.log10(np.sum(power * x / (1 + x)) / np.sum(power)))
