"""Waveshaper that keeps the peak and raises the body.

``y = p tanh(k x / p) / tanh(k)``: a value at the peak ``p`` stays where it is, a soft one is raised by ``k / tanh(k)``, in between
smoothly. So loudness rises and the peak does not. Run at four times the rate (`features.processors.dynamics.curves`); without the harmonics
that would fold back, flat tops ring, and the true peak can come out some tenths of a dB higher.
"""

import numpy as np

from features.processors.dynamics.curves import Singles, shaped
from features.sound.signal import Signal

SEARCH_STEPS = 60


def steepness(raise_db: float) -> float:
    """Return the curve's steepness for a wanted raise.

    ``k`` with ``k / tanh(k) = 10 ** (raise / 20)``, found by halving.

    Examples
    --------
    >>> k = steepness(6.0)
    >>> round(float(20 * np.log10(k / np.tanh(k))), 6)
    6.0
    """
    wanted = 10 ** (raise_db / 20)
    low, high = 1e-9, wanted + 1
    for _ in range(SEARCH_STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if middle / np.tanh(middle) < wanted else (low, middle)
    return (low + high) / 2


def raise_body(signal: Signal, raise_db: float, peak_dbfs: float | None = None) -> Signal:
    """Raise soft parts by ``raise_db`` and leave the peak.

    0 dB returns the same samples.

    ``peak_dbfs`` is the level that stays where it is; by default the signal's own sample peak. State it for pieces of a longer sound.
    """
    if raise_db < 0.0:
        raise ValueError(f"the body cannot be raised by {raise_db:.1f} dB; take 0 dB or more")
    highest = float(np.abs(signal.samples).max(initial=0.0)) if peak_dbfs is None else 10 ** (peak_dbfs / 20)
    if raise_db == 0.0 or highest == 0.0:
        return signal
    k = steepness(raise_db)
    inner, outer = np.float32(k / highest), np.float32(highest / np.tanh(k))

    def curve(x: Singles) -> Singles:
        bent: Singles = outer * np.tanh(inner * x)
        return bent

    return Signal(shaped(signal.samples, curve), signal.rate_hz)
