"""Readings of power.

Products of each part's spectrum with that of all parts together, weighted over frequency and time. A part's product with the sum is its
own power and half of what it adds with every other, so the products of all parts sum to the power of the sum, correlated or not; what
the mix has beyond that came after them.
"""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from features.shares.about import About
from features.sound import fourier
from features.sound.signal import Samples, Source

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Spectra = NDArray[np.complex64]

SIZE_S = 0.186  # 5 Hz apart: as narrow as a resonance is
CHUNK = 16  # frames at once
MOST_S = 120.0  # of a longer song, chunks spread evenly over it
Channels = Literal["both", "lean", "sides"]
Bins = Callable[[Floats, About], Floats]
Frames = Callable[[Floats, Floats, About], Floats]


@dataclass(frozen=True, slots=True)
class Spectral:
    """A reading of power.

    Attributes
    ----------
    channels
        ``both``: the sum of left and right; ``lean``: left minus right; ``sides``: the side signal.
    bins
        Weight of each frequency, from the frequencies in Hz.
    frames
        Weight of each frame, from the frames' times in s and the mix's own reading in each.
    everywhere
        Whether frames outside of the finding's times are needed.
    """

    channels: Channels
    bins: Bins
    frames: Frames
    everywhere: bool = True


@dataclass(frozen=True, slots=True)
class Asked:
    """A spectral reading and what it is about."""

    reading: Spectral
    about: About


@dataclass(frozen=True, slots=True)
class _Grid:
    """Frames of a song: their size and step in samples, and which are looked at."""

    rate_hz: int
    size: int
    starts: NDArray[np.int64]  # first frame of each chunk
    frames: int

    @property
    def hop(self) -> int:
        return self.size // 2

    def times(self, chunk: int) -> Floats:
        first = self.starts[chunk]
        return np.asarray((np.arange(first, min(first + CHUNK, self.frames)) + 1.0) * self.hop / self.rate_hz, np.float64)


def spectral_products(parts: Mapping[str, Source], mix: Source, asked: Sequence[Asked]) -> list[tuple[Floats, float]]:
    """Return the parts' products with their sum, by reading.

    And the mix's with itself.
    """
    if not asked:
        return []
    grid = _grid(mix, asked)
    hz: Floats = np.fft.rfftfreq(grid.size, 1.0 / grid.rate_hz).astype(np.float64)
    weights = np.array([question.reading.bins(hz, question.about) for question in asked], np.float32)
    window = np.hanning(grid.size).astype(np.float32)
    courses: list[Floats] = []  # per chunk: (1 + parts, readings, frames)
    with ThreadPoolExecutor(2) as pool:
        for chunk in range(len(grid.starts)):
            read = partial(_spectra, grid=grid, chunk=chunk, window=window)
            whole = read(mix)
            pieces = list(pool.map(read, parts.values()))
            course = partial(_products, _summed(pieces, whole), weights=weights, asked=asked)
            courses.append(np.array([_products(whole, whole, weights, asked), *pool.map(course, pieces)]))
    times = np.concatenate([grid.times(chunk) for chunk in range(len(grid.starts))])
    return _weighted(np.concatenate(courses, axis=2), times, asked)


def _weighted(courses: Floats, times: Floats, asked: Sequence[Asked]) -> list[tuple[Floats, float]]:
    made = []
    for place, question in enumerate(asked):
        course = courses[:, place]
        products = course @ question.reading.frames(times, course[0], question.about)
        made.append((products[1:], float(products[0])))
    return made


def _grid(mix: Source, asked: Sequence[Asked]) -> _Grid:
    size = int(fourier.next_fast_len(2 * round(SIZE_S * mix.rate_hz / 2), real=True))
    size += size % 2
    hop = size // 2
    frames = max(-(-mix.frames // hop) - 1, 1)
    starts = range(0, frames, CHUNK)
    wanted = [chunk for chunk in starts if any(_needs(question, chunk, hop, mix.rate_hz) for question in asked)]
    most = max(int(MOST_S * mix.rate_hz / (CHUNK * hop)), 1)
    if len(wanted) > most:
        wanted = [wanted[round(place)] for place in np.linspace(0, len(wanted) - 1, most)]
    return _Grid(mix.rate_hz, size, np.array(wanted or [0], np.int64), frames)


def _needs(question: Asked, chunk: int, hop: int, rate_hz: int) -> bool:
    if question.reading.everywhere or not question.about.where:
        return True
    start_s, end_s = chunk * hop / rate_hz, (chunk + CHUNK + 1) * hop / rate_hz
    return any(span.start_s < end_s and start_s < span.end_s for span in question.about.where)


def _spectra(source: Source, grid: _Grid, chunk: int, window: Singles) -> Spectra:
    """Return the spectra of a chunk's frames, shape ``(channels, frames, bins)``."""
    first = int(grid.starts[chunk])
    count = min(CHUNK, grid.frames - first)
    sound: Samples = source.read(first * grid.hop, (count + 1) * grid.hop)
    length = (count + 1) * grid.hop
    if sound.shape[1] < length:
        sound = np.concatenate([sound, np.zeros((len(sound), length - sound.shape[1]), np.float32)], axis=1)
    if not sound.any():
        return np.zeros((len(sound), count, grid.size // 2 + 1), np.complex64)
    frames = np.lib.stride_tricks.sliding_window_view(sound, grid.size, axis=1)[:, :: grid.hop]
    spectra: Spectra = fourier.rfft(frames * window, axis=2)
    return spectra


def _summed(pieces: Sequence[Spectra], whole: Spectra) -> Spectra:
    total = np.zeros_like(whole)
    for piece in pieces:
        total += piece
    return total


def _products(whole: Spectra, part: Spectra, weights: Singles, asked: Sequence[Asked]) -> Floats:
    """Return weighted products, shape ``(readings, frames)``."""
    made = np.zeros((len(asked), whole.shape[1]))
    for channels in dict.fromkeys(question.reading.channels for question in asked):
        rows = [place for place, question in enumerate(asked) if question.reading.channels == channels]
        power = _PRODUCT_OF[channels](whole, part)
        if power is not None:
            made[rows] = (power @ weights[rows].T).T
    return made


def _product(first: Spectra, second: Spectra) -> Singles:
    return np.asarray(first.real * second.real + first.imag * second.imag, np.float32)


def _both(whole: Spectra, part: Spectra) -> Singles | None:
    return _product(whole[0], part[0]) + (_product(whole[1], part[-1]) if len(whole) > 1 else 0.0)


def _lean(whole: Spectra, part: Spectra) -> Singles | None:
    return None if len(whole) < 2 else _product(whole[0], part[0]) - _product(whole[1], part[-1])


def _sides(whole: Spectra, part: Spectra) -> Singles | None:
    return None if min(len(whole), len(part)) < 2 else _product(whole[0] - whole[1], part[0] - part[1])


_PRODUCT_OF: Mapping[Channels, Callable[[Spectra, Spectra], Singles | None]] = {"both": _both, "lean": _lean, "sides": _sides}
