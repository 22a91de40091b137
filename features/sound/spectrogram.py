"""The one shared picture of the song over time.

Its spectrum in third-octave and twelfth-octave bands.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.sound import fourier
from features.sound.bands import bin_ranges, third_octaves, twelfth_octaves
from features.sound.compiled import kernel
from features.sound.measurement import Trace, meter
from features.sound.signal import Samples
from features.sound.stream_buffer import StreamBuffer

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

BATCH_FRAMES = 64
HOP_S = 4096 / 44100  # the window is twice as long: 5.4 Hz between bins
FLOOR_DB = -200.0


@dataclass(frozen=True, slots=True)
class Spectrogram(Trace):
    """Power of the song over time and frequency.

    All powers are mean squares, full scale = 1.

    Attributes
    ----------
    rate_hz, hop_s
        Sampling rate; time from frame to frame. Frame ``i`` is centred at ``(i + 0.5) * hop_s``.
    band_hz
        Third-octave centres (``features.sound.bands.third_octaves``), shape ``(bands,)``.
    left, right, cross
        Power in each band (not per Hz) of L and R, and Re(L R*), shape ``(frames, bands)``. Mono: all three are equal.
    detail_hz, detail_db
        Twelfth-octave centres and 10 log10 of the mean of both channels' power there, float16, shape ``(frames, 4 * bands)``.
    fine_hz, fine_left, fine_right, fine_cross
        FFT bins: frequency, mean power over all frames of L and R, mean of L conj(R); shape ``(bins,)``.
    duration_s, channels
        Length of the song and its number of channels.
    """

    rate_hz: int
    hop_s: float
    band_hz: Floats
    left: Singles
    right: Singles
    cross: Singles
    detail_hz: Floats
    detail_db: NDArray[np.float16]
    fine_hz: Floats
    fine_left: Floats
    fine_right: Floats
    fine_cross: NDArray[np.complex128]
    duration_s: float
    channels: int

    def mid(self) -> Singles:
        """Power of (L + R) / 2.

        Per frame and band.
        """
        return np.maximum((self.left + self.right + np.float32(2) * self.cross) / np.float32(4), np.float32(0))

    def side(self) -> Singles:
        """Power of (L - R) / 2.

        Per frame and band.
        """
        return np.maximum((self.left + self.right - np.float32(2) * self.cross) / np.float32(4), np.float32(0))

    def both(self) -> Singles:
        """Power of L plus power of R, halved.

        What both loudspeakers give, per frame and band.
        """
        return (self.left + self.right) * np.float32(0.5)

    @property
    def frames(self) -> int:
        """Number of frames."""
        return int(self.left.shape[0])

    def times_s(self) -> Floats:
        """Centre of each frame in seconds, shape ``(frames,)``."""
        return (np.arange(self.frames, dtype=np.float64) + 0.5) * self.hop_s


@kernel
def _share_out(
    left: NDArray[np.complex64],
    right: NDArray[np.complex64],
    scale: Singles,
    ranges: NDArray[np.int64],
    shares: Singles,
    bands: NDArray[np.float32],
    fine: Floats,
) -> None:
    """Add bin powers to ``fine`` (rows: L, R, Re and Im of L conj(R)), and sum them into ``bands[(L, R, Re), frame, band]``."""
    bins = left.shape[1]
    power = np.empty((3, bins), np.float32)
    for frame in range(left.shape[0]):
        for k in range(bins):
            a, b = left[frame, k], right[frame, k]
            weight = scale[k]
            power[0, k] = weight * (a.real * a.real + a.imag * a.imag)
            power[1, k] = weight * (b.real * b.real + b.imag * b.imag)
            power[2, k] = weight * (a.real * b.real + a.imag * b.imag)
            fine[0, k] += power[0, k]
            fine[1, k] += power[1, k]
            fine[2, k] += power[2, k]
            fine[3, k] += weight * (a.imag * b.real - a.real * b.imag)
        for band in range(ranges.shape[1]):
            low, high = ranges[0, band], ranges[1, band]
            for row in range(3):
                total = shares[0, band] * power[row, low]
                for k in range(low + 1, high):
                    total += power[row, k]
                if high > low:
                    total += shares[1, band] * power[row, high]
                bands[row, frame, band] = total


@meter("spectrogram")
class SpectrogramMeter:
    """Measures a `Spectrogram` block by block.

    Windows: Hann, twice the hop, zeros around the song.
    """

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare for sound of ``channels`` (1 or 2) at ``rate_hz``."""
        self.rate_hz = rate_hz
        self.channels = channels
        self.hop = int(fourier.next_fast_len(int(np.ceil(rate_hz * HOP_S)), real=True))
        self.hop += self.hop % 2
        size = 2 * self.hop
        window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(size) + 0.5) / size)
        self._window = window.astype(np.float32)
        scale = np.full(self.hop + 1, 2 / (size * np.sum(window**2)))
        scale[[0, -1]] /= 2
        self._scale = scale.astype(np.float32)
        bands = twelfth_octaves(rate_hz)
        self._detail_hz = bands.centre_hz
        self._ranges, self._shares = bin_ranges(bands, rate_hz, size)
        self._buffer = StreamBuffer(channels, (BATCH_FRAMES + 1) * self.hop, self.hop // 2)
        self._pushed = 0
        self._fine = np.zeros((4, self.hop + 1))
        self._thirds: list[Singles] = []
        self._details: list[NDArray[np.float16]] = []

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        self._pushed += block.shape[1]
        for _ in self._buffer.fill(block):
            self._measure(BATCH_FRAMES)

    def _measure(self, frames: int) -> None:
        size = 2 * self.hop
        spectra = []
        for channel in self._buffer.samples:
            windows = np.lib.stride_tricks.sliding_window_view(channel, size)[:: self.hop][:frames]
            spectra.append(fourier.rfft(windows * self._window, axis=1))
        bands = np.empty((3, frames, len(self._detail_hz)), np.float32)
        _share_out(spectra[0], spectra[-1], self._scale, self._ranges, self._shares, bands, self._fine)
        self._thirds.append(bands.reshape(3, frames, -1, 4).sum(axis=3, dtype=np.float32))
        detail = 10 * np.log10(np.maximum((bands[0] + bands[1]) / 2, 10 ** (FLOOR_DB / 10)))
        self._details.append(detail.astype(np.float16))
        self._buffer.carry(self.hop)

    def finish(self) -> Spectrogram:
        """Return the picture. No `push` after it."""
        frames = -(-self._pushed // self.hop)
        rest = frames - BATCH_FRAMES * len(self._thirds)
        while rest > 0:
            self._buffer.fill_with_silence()
            self._measure(min(rest, BATCH_FRAMES))
            rest -= BATCH_FRAMES
        detail_bands = len(self._detail_hz)
        thirds = np.concatenate(self._thirds, axis=1) if self._thirds else np.zeros((3, 0, detail_bands // 4), np.float32)
        details = np.concatenate(self._details) if self._details else np.zeros((0, detail_bands), np.float16)
        thirds, details = thirds[:, :frames], details[:frames]
        fine = self._fine / max(frames, 1)
        return Spectrogram(
            rate_hz=self.rate_hz,
            hop_s=self.hop / self.rate_hz,
            band_hz=third_octaves(self.rate_hz).centre_hz,
            left=thirds[0],
            right=thirds[1],
            cross=thirds[2],
            detail_hz=self._detail_hz,
            detail_db=details,
            fine_hz=np.arange(self.hop + 1) * self.rate_hz / (2 * self.hop),
            fine_left=fine[0],
            fine_right=fine[1],
            fine_cross=fine[2] + 1j * fine[3],
            duration_s=self._pushed / self.rate_hz,
            channels=self.channels,
        )
