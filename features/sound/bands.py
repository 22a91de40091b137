"""Frequency bands: fractional octaves and ERB bands.

FFT bins are shared out among them here.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

OCTAVE_RATIO = 10**0.3  # G of IEC 61260-1:2014, base ten
REFERENCE_HZ = 1000.0
NEEDED_SHARE = 0.75  # of a band must lie below half the sampling rate
CORRELATION_OCTAVES = 0.4


@dataclass(frozen=True, slots=True)
class Bands:
    """Neighbouring bands: ``centre_hz``, ``low_hz`` and ``high_hz``, each of shape ``(bands,)``.

    ``high_hz`` never passes half the sampling rate, so that power per Hz stays right in the last band.
    """

    centre_hz: Floats
    low_hz: Floats
    high_hz: Floats

    @property
    def width_hz(self) -> Floats:
        """Width of each band."""
        return self.high_hz - self.low_hz

    def __len__(self) -> int:
        """Return the number of bands."""
        return len(self.centre_hz)


def fractional_octaves(rate_hz: int, fraction: int, low_hz: float, high_hz: float) -> Bands:
    """Return the ``1/fraction``-octave bands with centres from ``low_hz`` to ``high_hz``.

    As far as the rate allows.

    Parameters
    ----------
    rate_hz
        Sampling rate in Hz.
    fraction
        1 for octaves, 3 for third octaves, 12 for twelfths.
    low_hz, high_hz
        Nominal centres of the outermost bands, in Hz.

    Notes
    -----
    IEC 61260-1:2014, 5.2-5.6: ``f_m = 1000 G**(x/b)`` for odd ``b``, ``1000 G**((2x+1)/(2b))`` for even ``b``, edges
    ``f_m G**(-+1/(2b))``, ``G = 10**0.3``. A band of which more than a quarter lies above half the rate is left out.

    Examples
    --------
    >>> fractional_octaves(48000, 1, 31.5, 16000).centre_hz.round(2).tolist()
    [31.62, 63.1, 125.89, 251.19, 501.19, 1000.0, 1995.26, 3981.07, 7943.28, 15848.93]
    """
    offset = 0.0 if fraction % 2 else 0.5
    positions = np.log10(np.array([low_hz, high_hz]) / REFERENCE_HZ) / 0.3 * fraction - offset
    first, last = np.round(positions).astype(int)
    centre = REFERENCE_HZ * OCTAVE_RATIO ** ((np.arange(first, last + 1) + offset) / fraction)
    half = OCTAVE_RATIO ** (0.5 / fraction)
    return _cut(Bands(centre, centre / half, centre * half), rate_hz)


def _cut(bands: Bands, rate_hz: int) -> Bands:
    high = np.minimum(bands.high_hz, rate_hz / 2)
    wide_enough = high - bands.low_hz >= NEEDED_SHARE * bands.width_hz
    return Bands(bands.centre_hz[wide_enough], bands.low_hz[wide_enough], high[wide_enough])


def third_octaves(rate_hz: int) -> Bands:
    """Return the third-octave bands from 20 Hz to 20 kHz.

    As far as the rate allows (31 of them at 44.1 kHz and above).

    Examples
    --------
    >>> third_octaves(44100).centre_hz[[0, 17, 30]].round(2).tolist()
    [19.95, 1000.0, 19952.62]
    """
    return fractional_octaves(rate_hz, 3, 20.0, 20000.0)


def octaves(rate_hz: int) -> Bands:
    """Return the octave bands from 31.5 Hz to 16 kHz.

    As far as the rate allows.
    """
    return fractional_octaves(rate_hz, 1, 31.5, 16000.0)


def twelfth_octaves(rate_hz: int) -> Bands:
    """Return the twelfth-octave bands inside the third-octave bands.

    Four to each, edges falling together.
    """
    thirds = len(third_octaves(rate_hz))
    numbers = np.arange(-70, -70 + 4 * thirds)
    centre = REFERENCE_HZ * OCTAVE_RATIO ** ((numbers + 0.5) / 12)
    half = OCTAVE_RATIO ** (0.5 / 12)
    low, high = centre / half, np.minimum(centre * half, rate_hz / 2)
    return Bands(centre, low, np.maximum(high, low))


def erb_number(frequency_hz: Floats) -> Floats:
    """Return the ERB-number in Cam.

    ``21.4 log10(1 + 0.00437 f)`` (Glasberg and Moore 1990).

    Examples
    --------
    >>> float(erb_number(np.array([1000.0]))[0].round(3))
    15.621
    """
    return 21.4 * np.log10(1 + 0.00437 * frequency_hz)


def erb_frequency(number_cam: Floats) -> Floats:
    """Return the frequency in Hz of an ERB-number in Cam.

    The inverse of `erb_number`.
    """
    return (10 ** (number_cam / 21.4) - 1) / 0.00437


def erb_width(frequency_hz: Floats) -> Floats:
    """Return the equivalent rectangular bandwidth in Hz.

    ``24.7 (4.37 f / 1000 + 1)`` (Glasberg and Moore 1990).
    """
    return 24.7 * (4.37 * frequency_hz / 1000 + 1)


def erb_bands(rate_hz: int) -> Bands:
    """Return bands one Cam wide.

    Centred at 1, 2 ... 41 Cam (26 Hz to 18.7 kHz), as far as the rate allows.
    """
    numbers = np.arange(1.0, 42.0)
    return _cut(Bands(erb_frequency(numbers), erb_frequency(numbers - 0.5), erb_frequency(numbers + 0.5)), rate_hz)


def octave_overlap(first: Floats, second: Floats) -> float | None:
    """Return how far two third-octave spectra share octaves.

    ``sum min(p, q)`` of both, each averaged over an octave and scaled to a sum of 1: 0 to 1; ``None`` where one holds nothing.

    Examples
    --------
    >>> octave_overlap(np.array([0.0, 1.0, 0.0, 0.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0, 0.0, 0.0, 0.0]))
    0.6666666666666666
    """
    shapes = []
    for thirds in (first, second):
        octave = np.convolve(thirds, np.ones(3), mode="same")
        if not octave.sum() > 0:
            return None
        shapes.append(octave / octave.sum())
    return float(np.minimum(*shapes).sum())


def overlap(low_hz: Floats, high_hz: Floats, bands: Bands) -> Floats:
    """Return each cell's share in each band.

    Cells are ``low_hz`` to ``high_hz``; shape ``(cells, bands)``.
    A cell that straddles an edge is split in proportion, so that power is neither lost nor counted twice.
    """
    top = np.minimum(high_hz[:, None], bands.high_hz[None, :])
    bottom = np.maximum(low_hz[:, None], bands.low_hz[None, :])
    width = np.maximum(high_hz - low_hz, 1e-9)
    shares: Floats = np.maximum(top - bottom, 0.0) / width[:, None]
    return shares


def neighbours(band_hz: Floats) -> Floats:
    """Return the correlation between bands that only neighbours have.

    ``exp(-distance / 0.4 octaves)``, shape ``(bands, bands)``.
    What measured correlations of few songs are shrunk towards.

    Examples
    --------
    >>> neighbours(np.array([500.0, 500.0 * 2**0.4])).round(3).tolist()
    [[1.0, 0.368], [0.368, 1.0]]
    """
    octave = np.log2(band_hz)
    near: Floats = np.exp(-np.abs(octave[:, None] - octave[None, :]) / CORRELATION_OCTAVES)
    return near


def bin_cells(rate_hz: int, fft_size: int) -> tuple[Floats, Floats]:
    """Return the edges of each FFT bin in Hz.

    Of a real FFT; the first and last are half as wide.
    """
    edges = (np.arange(fft_size // 2 + 2) - 0.5) * rate_hz / fft_size
    edges[0], edges[-1] = 0.0, rate_hz / 2
    return edges[:-1], edges[1:]


def band_matrix(bands: Bands, rate_hz: int, fft_size: int) -> NDArray[np.float32]:
    """Return the matrix that sums FFT power bins into bands.

    Shape ``(bins, bands)``: ``band_power = power @ matrix``.
    Bins at an edge are shared between both bands in proportion to the overlap.
    """
    low, high = bin_cells(rate_hz, fft_size)
    return overlap(low, high, bands).astype(np.float32)


def a_weighting(frequency_hz: Floats) -> Floats:
    """Return the A-weighting in dB (IEC 61672-1:2013, Annex E).

    Examples
    --------
    >>> a_weighting(np.array([1000.0, 10**2.0])).round(2).tolist()
    [0.0, -19.14]
    """
    square = frequency_hz**2
    f1, f2, f3, f4 = 20.598997, 107.65265, 737.86223, 12194.217
    gain = f4**2 * square**2 / ((square + f1**2) * np.sqrt((square + f2**2) * (square + f3**2)) * (square + f4**2))
    weighted: Floats = 20 * np.log10(np.maximum(gain, 1e-30)) + 1.99966
    return weighted


def bin_ranges(bands: Bands, rate_hz: int, fft_size: int) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
    """Return each band's outermost bins, and its shares of them.

    First and last bin, both results of shape ``(2, bands)``; what lies between belongs to the band whole.
    """
    shares = overlap(*bin_cells(rate_hz, fft_size), bands)
    used = shares > 0
    some = used.any(axis=0)  # a band wholly above half the rate holds no bin
    ends = np.where(some, np.stack([used.argmax(axis=0), shares.shape[0] - 1 - used[::-1].argmax(axis=0)]), 0).astype(np.int64)
    return ends, np.take_along_axis(shares, ends, axis=0).astype(np.float32)
