"""Levels in a listening condition: playback, noise, threshold."""

import numpy as np
from numpy.typing import NDArray

from features.elements.levels.level_plan import k_response
from features.elsewhere.conditions import Condition
from features.hearing.equal_loudness import TABLE
from features.hearing.masking import OFFSET_DB, SOFT_DB
from features.sound.bands import Bands

Floats = NDArray[np.float64]
NOMINAL_RATE_HZ = 48000


def k_weights(bands: Bands) -> Floats:
    """Return the K-weighting's power gain in each band."""
    return k_response(bands.centre_hz, NOMINAL_RATE_HZ)


def threshold_db(frequency_hz: Floats) -> Floats:
    """Return the threshold in quiet, in dB.

    ISO 226:2023, table 1; held beyond its ends.

    Examples
    --------
    >>> float(threshold_db(np.array([1000.0]))[0])
    2.4
    """
    return np.interp(np.log(np.maximum(frequency_hz, 1.0)), np.log(TABLE[:, 0]), TABLE[:, 3])


def hidden_db(condition: Condition, bands: Bands) -> Floats:
    """Return the level that the place itself masks, in dB.

    In each band: the noise and the threshold in quiet together.
    """
    noise = 10.0 ** (condition.noise_db(bands.low_hz, bands.high_hz) / 10.0)
    masker: Floats = 10.0 * np.log10(noise + 10.0 ** ((threshold_db(bands.centre_hz) + OFFSET_DB) / 10.0))
    return masker


def audible(level_db: Floats, masker_db: Floats) -> Floats:
    """Return how audible a level is over a masker.

    0 to 1: 1 from 3 dB above the masker less 4 dB on, 0 from 3 dB below it, straight between, as in `features.hearing.masking`.

    Examples
    --------
    >>> audible(np.array([60.0, 56.0, 50.0]), np.array([60.0, 60.0, 60.0])).tolist()
    [1.0, 0.5, 0.0]
    """
    return np.clip(0.5 + 0.5 * (level_db - masker_db + OFFSET_DB) / SOFT_DB, 0.0, 1.0)
