"""Equal-loudness contours of pure tones (ISO 226:2023)."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# ISO 226:2023, table 1: frequency in Hz, exponent of loudness, magnitude of the transfer function in dB, threshold in dB.
TABLE: Floats = np.array([
    (20, 0.635, -31.5, 78.1), (25, 0.602, -27.2, 68.7), (31.5, 0.569, -23.1, 59.5), (40, 0.537, -19.3, 51.1),
    (50, 0.509, -16.1, 44.0), (63, 0.482, -13.1, 37.5), (80, 0.456, -10.4, 31.5), (100, 0.433, -8.2, 26.5),
    (125, 0.412, -6.3, 22.1), (160, 0.391, -4.6, 17.9), (200, 0.373, -3.2, 14.4), (250, 0.357, -2.1, 11.4),
    (315, 0.343, -1.2, 8.6), (400, 0.330, -0.5, 6.2), (500, 0.320, 0.0, 4.4), (630, 0.311, 0.4, 3.0),
    (800, 0.303, 0.5, 2.2), (1000, 0.300, 0.0, 2.4), (1250, 0.295, -2.7, 3.5), (1600, 0.292, -4.2, 1.7),
    (2000, 0.290, -1.2, -1.3), (2500, 0.290, 1.4, -4.2), (3150, 0.289, 2.3, -6.0), (4000, 0.289, 1.0, -5.4),
    (5000, 0.289, -2.3, -1.5), (6300, 0.293, -7.2, 6.0), (8000, 0.303, -11.2, 12.6), (10000, 0.323, -10.9, 13.9),
    (12500, 0.354, -3.5, 12.3),
])  # fmt: skip


def contour_at_table(loudness_phon: float) -> Floats:
    """Return the levels that sound as loud as ``loudness_phon``.

    Sound pressure level in dB for each of the table's tones.
    ISO 226:2023, formula 1:
    ``L = 10/a log10((4e-10)^(0.3 - a) (10^(0.03 N) - 10^0.072) + 10^(a (T + U) / 10)) - U``. Valid for 20 to 90 phon up to
    4 kHz, to 80 phon above.

    Examples
    --------
    >>> float(contour_at_table(40.0)[17].round(1))
    40.0
    """
    _, exponent, transfer, threshold = TABLE.T
    loudness = 4e-10 ** (0.3 - exponent) * (10 ** (0.03 * loudness_phon) - 10**0.072)
    level: Floats = 10 / exponent * np.log10(loudness + 10 ** (exponent * (threshold + transfer) / 10)) - transfer
    return level


def contour(frequency_hz: Floats, loudness_phon: float = 60.0) -> Floats:
    """Return the contour in dB at any frequency.

    Straight between the table's tones over log frequency, held outside them.

    Parameters
    ----------
    frequency_hz
        Frequencies in Hz, any shape. Above 12.5 kHz, where the standard ends, the value of 12.5 kHz is kept.
    loudness_phon
        Loudness level of the contour.
    """
    return np.interp(np.log(np.maximum(frequency_hz, 1.0)), np.log(TABLE[:, 0]), contour_at_table(loudness_phon))
