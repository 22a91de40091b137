"""One pass over stems and mix.

Every inner product between them, by band and over time, and a sketch of each sound.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from features.sound import fourier
from features.sound.bands import Bands, band_matrix, bin_cells, third_octaves
from features.sound.signal import Samples

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

FRAMES_AT_ONCE = 32
ENVELOPE_STEPS = 8  # per frame of the transform: 512 samples at 44.1 kHz, about 12 ms
MOST_SEGMENTS = 512


@dataclass(frozen=True, slots=True)
class Sketch:
    """Coarse picture of one sound.

    Attributes
    ----------
    peak
        Its highest sample, full scale = 1.
    power
        Mean square over time, mean of the channels.
    band_power
        Mean square in each third octave, shape ``(bands,)``, like ``power``.
    band_hz
        Centres of those bands.
    envelope
        Mean square in steps of ``step_s``, shape ``(steps,)``.
    step_s
        Length of a step.
    """

    peak: float
    power: float
    band_power: Floats
    band_hz: Floats
    envelope: Singles
    step_s: float


@dataclass(frozen=True, slots=True)
class StemProducts:
    """Inner products of sounds with each other.

    Of ``n``, summed over time and channels; a mono sound counts in both channels.

    Attributes
    ----------
    by_band
        In each third octave, shape ``(bands + 2, n, n)``; the first and the last hold what lies below and above.
    by_time
        In each segment, shape ``(segments, n, n)``.
    by_channel
        Between all channels, shape ``(n, c, n, c)``.
    edges_hz
        Edges of the bands, shape ``(bands + 3,)``.
    segment_s
        Length of a segment.
    frames
        Number of sample frames that were read.
    sketches
        One for each sound.
    """

    by_band: Floats
    by_time: Floats
    by_channel: Floats
    edges_hz: Floats
    segment_s: float
    frames: int
    rate_hz: int
    sketches: tuple[Sketch, ...]

    @property
    def total(self) -> Floats:
        """Inner products over everything, shape ``(n, n)``."""
        whole: Floats = self.by_time.sum(axis=0)
        return whole


def transform_size(rate_hz: int) -> int:
    """Return the length of a transform.

    The power of two next to 93 ms.

    Examples
    --------
    >>> transform_size(44100), transform_size(96000), transform_size(8000)
    (4096, 8192, 512)
    """
    return 1 << round(float(np.log2(rate_hz / 44100 * 4096)) - 0.2)


@contextmanager
def one_core() -> Iterator[None]:
    """Keep matrix products on one core.

    Those of a few rows only lose time by being shared out.
    """
    with threadpool_limits(1, user_api="blas"):
        yield


class StemProductsMeter:
    """Gathers the inner products of sounds that play together.

    The sounds are cut into frames without window or overlap; by Parseval's theorem the inner product of two frames is that of
    their transforms, so one pass gives the normal equations of the waveforms (summed in double precision) and their share
    in every band.
    """

    def __init__(self, rate_hz: int, channels: Sequence[int]) -> None:
        """Take the number of channels of every sound.

        1 or 2.
        """
        self._rate_hz, self._channels = rate_hz, tuple(channels)
        self._size = transform_size(rate_hz)
        self._rows = np.cumsum([0, *channels])
        self._buffer = np.zeros((int(self._rows[-1]), self._size * FRAMES_AT_ONCE), np.float32)
        self._filled = self._frames = 0
        bands = third_octaves(rate_hz)
        self._bands = bands
        self._cuts = _bin_cuts(bands, rate_hz, self._size)
        self._matrix = band_matrix(bands, rate_hz, self._size)
        rows = len(self._buffer)
        self._row_band = np.zeros((len(self._cuts) - 1, rows, rows))
        self._segments: list[Floats] = []
        self._pending: Floats | None = None
        self._segment_chunks, self._pending_chunks = 1, 0
        self._power = np.zeros((rows, len(bands)))
        self._peak = np.zeros(rows, np.float32)
        self._envelopes: list[Singles] = []

    def push(self, blocks: Sequence[Samples]) -> None:
        """Take the next block of every sound.

        Each of shape ``(channels, n)`` with the same ``n``.
        """
        count, start = blocks[0].shape[1], 0
        self._frames += count
        while start < count:
            part = min(self._buffer.shape[1] - self._filled, count - start)
            for row, block in zip(self._rows, blocks, strict=False):
                self._buffer[row : row + block.shape[0], self._filled : self._filled + part] = block[:, start : start + part]
            self._filled += part
            start += part
            if self._filled == self._buffer.shape[1]:
                self._chunk(FRAMES_AT_ONCE)

    def _chunk(self, frames: int) -> None:
        sound = self._buffer[:, : frames * self._size]
        np.maximum(self._peak, np.abs(sound).max(axis=1), out=self._peak)
        steps = sound.reshape(len(sound), frames * ENVELOPE_STEPS, -1)
        self._envelopes.append(self._by_sound(np.einsum("rst,rst->rs", steps, steps) / np.float32(steps.shape[2])))
        spectra = fourier.rfft(sound.reshape(len(sound), frames, self._size), axis=2)
        spectra *= np.float32(np.sqrt(2.0 / self._size))  # both halves of the spectrum; the two lone bins are put right below
        spectra[:, :, 0] *= np.float32(np.sqrt(0.5))
        spectra[:, :, -1] *= np.float32(np.sqrt(0.5))
        power = (spectra.real**2 + spectra.imag**2).sum(axis=1)
        self._power += power @ self._matrix
        chunk = np.zeros_like(self._row_band[0])
        for number, (low, high) in enumerate(zip(self._cuts, self._cuts[1:], strict=False)):
            if high > low:
                part = np.ascontiguousarray(spectra[:, :, low:high]).view(np.float32).reshape(len(sound), -1).astype(np.float64)
                product = part @ part.T
                self._row_band[number] += product
                chunk += product
        self._segment(self._summed(chunk))
        self._buffer[:] = 0.0
        self._filled = 0

    def _segment(self, product: Floats) -> None:
        self._pending = product if self._pending is None else self._pending + product
        self._pending_chunks += 1
        if self._pending_chunks < self._segment_chunks:
            return
        self._segments.append(self._pending)
        self._pending, self._pending_chunks = None, 0
        if len(self._segments) == MOST_SEGMENTS:
            self._segments = [earlier + later for earlier, later in zip(self._segments[::2], self._segments[1::2], strict=True)]
            self._segment_chunks *= 2

    def _by_sound(self, rows: Singles) -> Singles:
        """Return the mean over the channels of each sound."""
        return np.stack([rows[low:high].mean(axis=0) for low, high in zip(self._rows, self._rows[1:], strict=False)])

    def _index(self) -> tuple[NDArray[np.int64], int]:
        wide = max(self._channels)
        rows = [[low + min(channel, own - 1) for channel in range(wide)] for low, own in zip(self._rows, self._channels, strict=False)]
        return np.array(rows, np.int64), wide

    def _summed(self, product: Floats) -> Floats:
        index, wide = self._index()
        total = np.zeros((len(index), len(index)))
        for channel in range(wide):
            total += product[np.ix_(index[:, channel], index[:, channel])]
        return total

    def finish(self) -> StemProducts:
        """Return everything that was gathered."""
        if self._filled:
            self._chunk(-(-self._filled // self._size))
        if self._pending is not None:
            self._segments.append(self._pending)
        index, wide = self._index()
        whole = self._row_band.sum(axis=0)
        size = len(index)
        by_channel = whole[np.ix_(index.ravel(), index.ravel())].reshape(size, wide, size, wide)
        segments = np.stack(self._segments) if self._segments else np.zeros((1, size, size))
        return StemProducts(
            by_band=np.stack([self._summed(products) for products in self._row_band]), by_time=segments, by_channel=by_channel,
            edges_hz=np.array([0.0, *self._bands.low_hz, self._bands.high_hz[-1], self._rate_hz / 2]),
            segment_s=self._segment_chunks * FRAMES_AT_ONCE * self._size / self._rate_hz, frames=self._frames, rate_hz=self._rate_hz,
            sketches=self._sketches(),
        )  # fmt: skip

    def _sketches(self) -> tuple[Sketch, ...]:
        frames = max(self._frames, 1)
        band_power = self._power / frames
        envelopes = np.concatenate(self._envelopes, axis=1) if self._envelopes else np.zeros((len(self._channels), 0), np.float32)
        made = []
        for number, (low, high) in enumerate(zip(self._rows, self._rows[1:], strict=False)):
            rows = slice(int(low), int(high))
            whole = np.diagonal(self._row_band, axis1=1, axis2=2).sum(axis=0)[rows].mean() / frames
            made.append(
                Sketch(
                    peak=float(self._peak[rows].max()), power=float(whole), band_power=band_power[rows].mean(axis=0),
                    band_hz=self._bands.centre_hz, envelope=envelopes[number], step_s=self._size / ENVELOPE_STEPS / self._rate_hz,
                )
            )  # fmt: skip
        return tuple(made)


def _bin_cuts(bands: Bands, rate_hz: int, size: int) -> list[int]:
    """Return the first bin of every band, of what lies above, and the end; a bin belongs to the band its middle lies in."""
    low, high = bin_cells(rate_hz, size)
    middle = 0.5 * (low + high)
    inner = [int(np.searchsorted(middle, edge)) for edge in (*bands.low_hz, bands.high_hz[-1])]
    return [0, *inner, size // 2 + 1]
