"""Decibels: from power or amplitude and back.

Nothing is ``None``, never minus infinity.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

FLOOR_DB = -200.0  # far below anything a file can hold; keeps curves finite


def power_to_db(power: float) -> float | None:
    """Return ``10 log10(power)``.

    ``None`` for zero, negative or not finite.

    Examples
    --------
    >>> power_to_db(0.5)
    -3.010299956639812
    >>> power_to_db(0.0) is None
    True
    """
    value = float(power)
    return 10.0 * math.log10(value) if 0.0 < value < math.inf else None


def amplitude_to_db(amplitude: float) -> float | None:
    """Return ``20 log10(|amplitude|)``.

    ``None`` for zero or not finite.

    Examples
    --------
    >>> amplitude_to_db(-10.0)
    20.0
    >>> amplitude_to_db(float("nan")) is None
    True
    """
    value = abs(float(amplitude))
    return 20.0 * math.log10(value) if 0.0 < value < math.inf else None


def db_to_power(db: float) -> float:
    """Return ``10 ** (db / 10)``."""
    return float(10.0 ** (db / 10.0))


def db_to_amplitude(db: float) -> float:
    """Return ``10 ** (db / 20)``."""
    return float(10.0 ** (db / 20.0))


def powers_to_db(power: ArrayLike, floor_db: float = FLOOR_DB) -> NDArray[np.float64]:
    """Return ``10 log10(power)`` of an array of any shape.

    Never below ``floor_db``.

    Examples
    --------
    >>> powers_to_db([1.0, 0.0]).tolist()
    [0.0, -200.0]
    """
    values = np.asarray(power, dtype=np.float64)
    decibels: NDArray[np.float64] = 10.0 * np.log10(np.maximum(values, 10.0 ** (floor_db / 10.0)))
    return decibels


def amplitudes_to_db(amplitude: ArrayLike, floor_db: float = FLOOR_DB) -> NDArray[np.float64]:
    """Return ``20 log10(|amplitude|)`` of an array of any shape.

    Never below ``floor_db``.
    """
    return powers_to_db(np.square(np.abs(np.asarray(amplitude, dtype=np.float64))), floor_db)
