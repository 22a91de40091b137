"""What is kept of an element's sound.

Its power in the ear's bands frame by frame, and its loudness, peak and sides by the 100 ms.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.elements.steps import CURVE_FRAMES, STEP_S
from features.file_faults.clipping import Clipping, clipping_of
from features.file_faults.sample_scan import SampleScan
from features.sound import fourier
from features.sound.bands import bin_ranges, erb_bands, third_octaves
from features.sound.compiled import kernel
from features.sound.k_weighting import STATE_SIZE, STEPS_PER_S, energies, k_weighting, step_edges
from features.sound.signal import Samples, Source
from features.sound.stream_buffer import StreamBuffer

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

HOP_S = 1024 / 44100
WINDOW_HOPS = 4  # 93 ms: long enough to tell a kick from a bass, about as long as the ear gathers
BATCH_FRAMES = 64
FINE_STEPS = round(STEP_S * STEPS_PER_S)


@dataclass(frozen=True, slots=True)
class ElementTrace:
    """What `ElementMeter` keeps.

    Powers are mean squares, full scale = 1.

    Attributes
    ----------
    rate_hz, channels, frames
        Of the sound.
    hop_s
        Time from frame to frame; frame ``i`` is centred at ``(i + 0.5) * hop_s``.
    left, right
        Power in bands one Cam wide (``features.sound.bands.erb_bands``), shape ``(frames, bands)``, float32. One and the same array where
        both channels are equal, as in mono.
    thirds
        Power in third octaves, mean of the channels and of `CURVE_FRAMES` frames, shape ``(curves, bands)``, float32.
    k_energy
        K-weighted mean square, sum of the channels, of every 100 ms, shape ``(steps,)``; the last step may be shorter.
    k_cross
        K-weighted mean product of the channels of every 100 ms, shape ``(steps,)``; of mono its own mean square.
    energy
        Mean square of each channel, shape ``(channels, steps)``.
    peak
        Highest sample of all channels in each step, linear, shape ``(steps,)``, float32.
    clipping
        Its cut tops.
    """

    rate_hz: int
    channels: int
    frames: int
    hop_s: float
    left: Singles
    right: Singles
    thirds: Singles
    k_energy: Floats
    k_cross: Floats
    energy: Floats
    peak: Singles
    clipping: Clipping

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate_hz

    @property
    def silent(self) -> bool:
        """Whether every sample is zero."""
        return not bool(self.peak.max(initial=0.0) > 0)

    def both(self) -> Singles:
        """Mean power of left and right. Shape ``(frames, bands)``."""
        return self.left if self.left is self.right else (self.left + self.right) * np.float32(0.5)


def ordinary_peak_dbfs(trace: ElementTrace) -> float | None:
    """Return the level of an element's usual peaks.

    In dBFS; all but the rarest stay under it. None for silence.

    The 95th percentile of the peaks of its 100 ms steps within 40 dB of the highest.
    """
    peaks = trace.peak[trace.peak > 0.01 * trace.peak.max(initial=0.0)]
    return float(20.0 * np.log10(np.quantile(peaks, 0.95))) if peaks.size else None


@kernel
def _sum_bands(power: Singles, ranges: Integers, shares: Singles, out: Singles) -> None:
    """Sum bin powers, shape ``(rows, bins)``, into ``out``, shape ``(rows, bands)``."""
    for row in range(out.shape[0]):
        for band in range(ranges.shape[1]):
            low, high = ranges[0, band], ranges[1, band]
            total = shares[0, band] * power[row, low]
            for k in range(low + 1, high):
                total += power[row, k]
            if high > low:
                total += shares[1, band] * power[row, high]
            out[row, band] = total


@kernel
def _powers(spectra: NDArray[np.complex64], scale: Singles, power: Singles) -> None:
    for frame in range(power.shape[0]):
        for k in range(power.shape[1]):
            bin_ = spectra[frame, k]
            power[frame, k] = scale[k] * (bin_.real * bin_.real + bin_.imag * bin_.imag)


class _BandMeter:
    """Cuts sound into frames and sums their power into bands."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self.hop = int(fourier.next_fast_len(max(int(np.ceil(rate_hz * HOP_S)), 16), real=True))
        self.size = WINDOW_HOPS * self.hop
        window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(self.size) + 0.5) / self.size)
        self._window = window.astype(np.float32)
        scale = np.full(self.size // 2 + 1, 2 / (self.size * np.sum(window**2)))
        scale[[0, -1]] /= 2
        self._scale = scale.astype(np.float32)
        self._cams = bin_ranges(erb_bands(rate_hz), rate_hz, self.size)
        self._thirds = bin_ranges(third_octaves(rate_hz), rate_hz, self.size)
        self._buffer = StreamBuffer(channels, self.size + (BATCH_FRAMES - 1) * self.hop, (self.size - self.hop) // 2)
        self._windowed = np.empty((CURVE_FRAMES, self.size), np.float32)
        self._power = np.empty((CURVE_FRAMES, self.size // 2 + 1), np.float32)
        self._pushed = self._given = 0
        self._left: list[Singles] = []
        self._right: list[Singles] = []
        self._curves: list[Singles] = []

    def push(self, block: Samples) -> None:
        self._pushed += block.shape[1]
        for _ in self._buffer.fill(block):
            self._measure(BATCH_FRAMES)

    def _measure(self, frames: int) -> None:
        left = np.zeros((frames, self._cams[0].shape[1]), np.float32)
        right, curves = left, np.zeros((-(-frames // CURVE_FRAMES), self._thirds[0].shape[1]), np.float32)
        samples = self._buffer.samples
        if samples.any():
            equal = len(samples) == 1 or np.array_equal(samples[0], samples[1])
            right = left if equal else np.zeros_like(left)
            for number in range(len(curves)):
                self._few_frames(number, equal, left, right, curves)
        self._left.append(left)
        self._right.append(right)
        self._curves.append(curves)
        self._given += frames
        self._buffer.carry(self.size - self.hop)

    def _few_frames(self, number: int, equal: bool, left: Singles, right: Singles, curves: Singles) -> None:
        """Measure the frames of one curve: few at once, so that all of it stays near the processor."""
        rows = slice(number * CURVE_FRAMES, (number + 1) * CURVE_FRAMES)
        mean = self._band_powers(self._buffer.samples[0], left[rows], rows.start)
        if not equal:
            mean = 0.5 * (mean + self._band_powers(self._buffer.samples[1], right[rows], rows.start))
        _sum_bands(mean[None], *self._thirds, curves[number : number + 1])

    def _band_powers(self, channel: Singles, out: Singles, first: int) -> Singles:
        """Write the band powers of some frames to ``out``, and return the mean power of their bins."""
        frames = len(out)
        windows = np.lib.stride_tricks.sliding_window_view(channel, self.size)[:: self.hop][first : first + frames]
        np.multiply(windows, self._window, out=self._windowed[:frames])
        _powers(fourier.rfft(self._windowed[:frames], axis=1), self._scale, self._power[:frames])
        _sum_bands(self._power[:frames], *self._cams, out)
        mean: Singles = self._power[:frames].mean(axis=0)
        return mean

    def finish(self) -> tuple[Singles, Singles, Singles]:
        frames = -(-self._pushed // self.hop)
        while self._given < frames:
            self._buffer.fill_with_silence()
            self._measure(min(frames - self._given, BATCH_FRAMES))
        equal = all(left_piece is right_piece for left_piece, right_piece in zip(self._left, self._right, strict=True))
        left = _joined(self._left, self._cams)
        return left, left if equal else _joined(self._right, self._cams), _joined(self._curves, self._thirds)


def _joined(pieces: list[Singles], bands: tuple[Integers, Singles]) -> Singles:
    return np.concatenate([np.zeros((0, bands[0].shape[1]), np.float32), *pieces])


class _StepMeter:
    """Energies and peaks of every 100 ms."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._rate_hz = rate_hz
        self._filters, self._state = k_weighting(float(rate_hz)), np.zeros(STATE_SIZE)
        self._rest = np.zeros((channels, 0), np.float32)
        self._first = self._steps = 0
        self._k_energy: list[Floats] = []
        self._k_cross: list[Floats] = []
        self._energy: list[Floats] = []
        self._peak: list[Singles] = []

    @property
    def frames(self) -> int:
        return self._first + self._rest.shape[1]

    def push(self, block: Samples) -> None:
        self._rest = np.concatenate([self._rest, block], axis=1)
        steps = self.frames * STEPS_PER_S // (FINE_STEPS * self._rate_hz)
        while self._edge(steps) > self.frames:
            steps -= 1
        if steps > self._steps:
            self._measure(step_edges(self._rate_hz, FINE_STEPS * self._steps, FINE_STEPS * steps)[::FINE_STEPS] - self._first)

    def _edge(self, step: int) -> int:
        return int(step_edges(self._rate_hz, FINE_STEPS * step, FINE_STEPS * step)[0])

    def _measure(self, edges: Integers) -> None:
        used = np.ascontiguousarray(self._rest[:, : edges[-1]])
        if used.any() or self._state.any():
            means = energies(used[0], used[-1], edges, self._filters, self._state)
            channels = len(used)
            self._k_energy.append(means[:channels].sum(axis=0))
            self._k_cross.append(means[2])
            self._energy.append(means[3 : 3 + channels])
            self._peak.append(np.maximum.reduceat(np.abs(used).max(axis=0), edges[:-1]))
        else:
            self._k_energy.append(np.zeros(len(edges) - 1))
            self._k_cross.append(np.zeros(len(edges) - 1))
            self._energy.append(np.zeros((len(used), len(edges) - 1)))
            self._peak.append(np.zeros(len(edges) - 1, np.float32))
        self._rest = self._rest[:, edges[-1] :].copy()
        self._first += int(edges[-1])
        self._steps += len(edges) - 1

    def finish(self) -> tuple[Floats, Floats, Floats, Singles]:
        channels = len(self._rest)
        if self._rest.shape[1]:
            self._measure(np.array([0, self._rest.shape[1]], np.int64))
        return (
            np.concatenate([np.zeros(0), *self._k_energy]),
            np.concatenate([np.zeros(0), *self._k_cross]),
            np.concatenate([np.zeros((channels, 0)), *self._energy], axis=1),
            np.concatenate([np.zeros(0, np.float32), *self._peak]),
        )


class ElementMeter:
    """Measures an `ElementTrace` block by block.

    Hann windows of 93 ms every 23 ms. A channel equal to the other is transformed once, and silence not at all.
    """

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare for sound of ``channels`` (1 or 2) at ``rate_hz``."""
        self.rate_hz = rate_hz
        self.channels = channels
        self._bands = _BandMeter(rate_hz, channels)
        self._steps = _StepMeter(rate_hz, channels)
        self._scan = SampleScan(rate_hz, channels)

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        self._bands.push(block)
        self._steps.push(block)
        self._scan.push(block)

    def finish(self) -> ElementTrace:
        """Return the trace. No `push` after it."""
        frames = self._steps.frames
        left, right, thirds = self._bands.finish()
        k_energy, k_cross, energy, peak = self._steps.finish()
        hop_s = self._bands.hop / self.rate_hz
        clipping = clipping_of(self._scan.finish())
        return ElementTrace(self.rate_hz, self.channels, frames, hop_s, left, right, thirds, k_energy, k_cross, energy, peak, clipping)


def trace_of(source: Source) -> ElementTrace:
    """Return the trace of a whole sound."""
    meter = ElementMeter(source.rate_hz, source.channels)
    for block in source.blocks():
        meter.push(block)
    return meter.finish()
