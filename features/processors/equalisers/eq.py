"""Equaliser: bell, shelves, high- and low-pass, as minimum-phase filters.

Prototypes with ``A = 10 ** (gain / 40)`` (the usual studio shapes, symmetrical in boost and cut):

- bell: ``(s^2 + s A/Q + 1) / (s^2 + s/(A Q) + 1)``;
- low shelf: ``A (s^2 + sqrt(A)/Q s + A) / (A s^2 + sqrt(A)/Q s + 1)``, half the gain in dB at its frequency;
- high shelf: the same with ``s`` turned into ``1/s``;
- high- and low-pass: Butterworth, order 1 to 4 (6 to 24 dB per octave), 3.01 dB down at their frequency.

References: R. Bristow-Johnson, "The equivalence of various methods of computing biquad coefficients", AES 97 (1994); S. Butterworth (1930).
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from features.processors.equalisers.filters import Filter, bilinear
from features.sound.signal import Signal

Floats = NDArray[np.float64]

SHELF_Q = float(np.sqrt(0.5))
MOST_ORDER = 4


def bell_sections(rate_hz: float, frequency_hz: float, gain_db: float, q: float) -> Floats:
    """Return the sections of a bell, shape ``(1, 5)``."""
    a = 10 ** (gain_db / 40)
    return bilinear((1.0, a / q, 1.0), (1.0, 1 / (a * q), 1.0), frequency_hz, rate_hz)[None]


def low_shelf_sections(rate_hz: float, frequency_hz: float, gain_db: float, q: float = SHELF_Q) -> Floats:
    """Return the sections of a low shelf, shape ``(1, 5)``."""
    a = 10 ** (gain_db / 40)
    slope = np.sqrt(a) / q
    return bilinear((a * a, a * slope, a), (1.0, slope, a), frequency_hz, rate_hz)[None]


def high_shelf_sections(rate_hz: float, frequency_hz: float, gain_db: float, q: float = SHELF_Q) -> Floats:
    """Return the sections of a high shelf, shape ``(1, 5)``."""
    a = 10 ** (gain_db / 40)
    slope = np.sqrt(a) / q
    return bilinear((a, a * slope, a * a), (a, slope, 1.0), frequency_hz, rate_hz)[None]


def _butterworth(order: int) -> list[tuple[float, ...]]:
    """Return the denominators in ``s``; poles at the angles ``pi (2k + n - 1) / (2n)`` of the unit circle."""
    if not 1 <= order <= MOST_ORDER:
        raise ValueError(f"a filter of order {order} is not made here; take 1 to {MOST_ORDER}")
    pairs = [(1.0, 2 * float(np.sin(np.pi * (2 * k + 1) / (2 * order))), 1.0) for k in range(order // 2)]
    return [*pairs, (1.0, 1.0)] if order % 2 else list(pairs)


def _passes(rate_hz: float, frequency_hz: float, order: int, power: bool) -> Floats:
    rows = []
    for denominator in _butterworth(order):
        numerator: Sequence[float] = [0.0] * (len(denominator) - 1)
        whole = [*numerator, 1.0] if power else [1.0, *numerator]
        rows.append(bilinear(whole, denominator, frequency_hz, rate_hz))
    return np.array(rows)


def high_pass_sections(rate_hz: float, frequency_hz: float, order: int = 2) -> Floats:
    """Return the sections of a Butterworth high-pass.

    Shape ``((order + 1) // 2, 5)``.
    """
    return _passes(rate_hz, frequency_hz, order, power=True)


def low_pass_sections(rate_hz: float, frequency_hz: float, order: int = 2) -> Floats:
    """Return the sections of a Butterworth low-pass.

    Shape ``((order + 1) // 2, 5)``.
    """
    return _passes(rate_hz, frequency_hz, order, power=False)


def filtered(signal: Signal, sections: Floats) -> Signal:
    """Return ``signal`` through ``sections``, starting from silence.

    For blocks use `features.processors.equalisers.filters.Filter`.
    """
    return Signal(Filter(sections, signal.channels).process(signal.samples), signal.rate_hz)


def bell(signal: Signal, frequency_hz: float, gain_db: float, q: float = 1.0) -> Signal:
    """Raise or lower a region around ``frequency_hz``.

    0 dB returns the same samples.

    Examples
    --------
    >>> tone = np.sin(2 * np.pi * 1000 * np.arange(48000) / 48000).astype(np.float32)[None]
    >>> round(float(np.abs(bell(Signal(tone, 48000), 1000.0, -6.0).samples[0, 24000:]).max()), 3)
    0.501
    """
    return signal if gain_db == 0.0 else filtered(signal, bell_sections(signal.rate_hz, frequency_hz, gain_db, q))


def low_shelf(signal: Signal, frequency_hz: float, gain_db: float, q: float = SHELF_Q) -> Signal:
    """Raise or lower everything below ``frequency_hz``.

    0 dB returns the same samples.
    """
    return signal if gain_db == 0.0 else filtered(signal, low_shelf_sections(signal.rate_hz, frequency_hz, gain_db, q))


def high_shelf(signal: Signal, frequency_hz: float, gain_db: float, q: float = SHELF_Q) -> Signal:
    """Raise or lower everything above ``frequency_hz``.

    0 dB returns the same samples.
    """
    return signal if gain_db == 0.0 else filtered(signal, high_shelf_sections(signal.rate_hz, frequency_hz, gain_db, q))


def high_pass(signal: Signal, frequency_hz: float, order: int = 2) -> Signal:
    """Take out what lies below ``frequency_hz``.

    ``6 order`` dB per octave; 0 Hz returns the same samples.
    """
    return signal if frequency_hz <= 0.0 else filtered(signal, high_pass_sections(signal.rate_hz, frequency_hz, order))


def low_pass(signal: Signal, frequency_hz: float, order: int = 2) -> Signal:
    """Take out what lies above ``frequency_hz``.

    ``6 order`` dB per octave; half the rate or more returns the same samples.
    """
    return signal if frequency_hz >= signal.rate_hz / 2 else filtered(signal, low_pass_sections(signal.rate_hz, frequency_hz, order))
