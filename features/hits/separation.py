"""Harmonic-percussive separation: what strikes against what sustains, on logarithmic bands.

A stroke is short and broad, a held sound long and narrow. So the median over time of a band's power passes by what
strikes, the median over neighbouring bands passes by what sustains, and the two share the power out between them
(Fitzgerald, "Harmonic/percussive separation using median filtering", DAFx 2010). Two choices keep it cheap: sixth-octave bands
instead of FFT bins, and medians that move along a sorted window.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.sound import fourier
from features.sound.bands import Bands, bin_ranges, third_octaves
from features.sound.compiled import kernel
from features.sound.measurement import Trace
from features.sound.signal import Samples
from features.sound.stream_buffer import StreamBuffer

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

HOP_S = 256 / 44100
WINDOW_HOPS = 8  # 46 ms
BATCH_FRAMES = 64
MEDIAN_S = 0.30
MEDIAN_OCTAVES = 2.5
MARGIN = 4.0  # of power, above the held sound
THIN = 2  # the median over time looks at every second frame
TINY = np.float32(1e-24)


@dataclass(frozen=True, slots=True)
class PartCurves(Trace):
    """Mean power of both parts, in third-octave bands.

    Over all frames of the song.

    Attributes
    ----------
    band_hz
        Third-octave centres (``features.sound.bands.third_octaves``), shape ``(bands,)``.
    percussive, sustained
        Mean-square power in each band (not per Hz; full scale = 1), shape ``(bands,)``. Divide by the bands' width for
        power per Hz. Zero where the song holds nothing.
    """

    band_hz: Floats
    percussive: Floats
    sustained: Floats


def sixth_octaves(rate_hz: int) -> Bands:
    """Return the bands used here.

    Two to each third octave, edges falling together.

    Examples
    --------
    >>> sixth_octaves(44100).centre_hz[:2].round(2).tolist(), len(sixth_octaves(44100))
    ([18.84, 21.13], 62)
    """
    centre = third_octaves(rate_hz).centre_hz
    step = 10**0.025
    centres = np.stack([centre / step, centre * step], axis=1).ravel()
    high = np.minimum(centres * step, rate_hz / 2)
    return Bands(centres, centres / step, np.maximum(high, centres / step))


def hop_frames(rate_hz: int) -> int:
    """Return the samples from frame to frame.

    256 at 44.1 kHz, the same time at other rates.
    """
    return max(round(rate_hz * HOP_S), 1)


@kernel
def _band_power(
    left: NDArray[np.complex64], right: NDArray[np.complex64], scale: Singles, ranges: NDArray[np.int64], shares: Singles, bands: Singles
) -> None:
    """Sum the mean power of both spectra into ``bands[frame, band]``; ``shares`` are those of a band's first and last bin."""
    bins = left.shape[1]
    power = np.empty(bins, np.float32)
    for frame in range(left.shape[0]):
        a, b = left[frame], right[frame]
        for k in range(bins):
            power[k] = scale[k] * (a[k].real * a[k].real + a[k].imag * a[k].imag + b[k].real * b[k].real + b[k].imag * b[k].imag)
        for band in range(ranges.shape[1]):
            low, high = ranges[0, band], ranges[1, band]
            total = shares[0, band] * power[low]
            for k in range(low + 1, high):
                total += power[k]
            if high > low:
                total += shares[1, band] * power[high]
            bands[frame, band] = total


class BandPower:
    """Cuts sound into frames, and measures power per sixth octave.

    Block by block.
    Hann windows of 46 ms, every 5.8 ms; frame ``i`` is centred at ``(i + 0.5)`` hops. Power is the mean of both channels'.
    """

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare for sound of ``channels`` (1 or 2) at ``rate_hz``."""
        self.hop = hop_frames(rate_hz)
        self.size = int(fourier.next_fast_len(max(WINDOW_HOPS * self.hop, 16), real=True))
        self.size += self.size % 2
        window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(self.size) + 0.5) / self.size)
        self._window = window.astype(np.float32)
        scale = np.full(self.size // 2 + 1, 1 / (self.size * np.sum(window**2)))
        scale[[0, -1]] /= 2
        self._scale = scale.astype(np.float32)
        self._ranges, self._shares = bin_ranges(sixth_octaves(rate_hz), rate_hz, self.size)
        self._buffer = StreamBuffer(channels, self.size + (BATCH_FRAMES - 1) * self.hop, (self.size - self.hop) // 2)
        self._pushed = 0
        self._given = 0

    def push(self, block: Samples) -> Singles:
        """Take the next block, shape ``(channels, n)``.

        Return the frames it completes, shape ``(frames, bands)``.
        """
        self._pushed += block.shape[1]
        return self._joined([self._measure() for _ in self._buffer.fill(block)])

    def finish(self) -> Singles:
        """Return the last frames.

        One for every hop that was begun in all. No `push` after it.
        """
        frames = -(-self._pushed // self.hop)
        left = frames - self._given
        done: list[Singles] = []
        while self._given < frames:
            self._buffer.fill_with_silence()
            done.append(self._measure())
        return self._joined(done)[: max(left, 0)]

    def _joined(self, parts: list[Singles]) -> Singles:
        return np.concatenate(parts) if parts else np.zeros((0, len(self._ranges[0])), np.float32)

    def _measure(self) -> Singles:
        spectra = []
        for channel in self._buffer.samples:
            windows = np.lib.stride_tricks.sliding_window_view(channel, self.size)[:: self.hop]
            spectra.append(fourier.rfft(windows * self._window, axis=1))
        bands = np.empty((BATCH_FRAMES, len(self._ranges[0])), np.float32)
        _band_power(spectra[0], spectra[-1], self._scale, self._ranges, self._shares, bands)
        self._buffer.carry(self.size - self.hop)
        self._given += BATCH_FRAMES
        return bands


@kernel
def _take_out(window: Singles, count: int, value: float) -> None:
    """Remove one entry equal to ``value`` from the first ``count`` entries, which are sorted."""
    for k in range(np.searchsorted(window[:count], value), count - 1):
        window[k] = window[k + 1]


@kernel
def _put_in(window: Singles, count: int, value: float) -> None:
    """Add ``value`` to the first ``count`` entries, which are sorted and stay so."""
    slot = count
    while slot > 0 and window[slot - 1] > value:
        window[slot] = window[slot - 1]
        slot -= 1
    window[slot] = value


@kernel
def _exchange(window: Singles, count: int, old: float, new: float) -> None:
    """Put ``new`` where ``old`` was among the first ``count`` entries, and move those between, so that they stay sorted."""
    slot = 0
    for k in range(count):
        slot += window[k] < old
    while slot + 1 < count and window[slot + 1] < new:
        window[slot] = window[slot + 1]
        slot += 1
    while slot > 0 and window[slot - 1] > new:
        window[slot] = window[slot - 1]
        slot -= 1
    window[slot] = new


@kernel
def running_median(values: Singles, half: int, medians: Singles) -> None:
    """Write the running median of each row.

    Of ``values[row, i - half : i + half + 1]`` to ``medians[row, i]``; windows are cut at the ends.
    Of an even number the lower of the two middle values is taken. ``values`` must hold no NaN.
    """
    window = np.empty(2 * half + 1, np.float32)
    columns = values.shape[1]
    for row in range(values.shape[0]):
        line, result = values[row], medians[row]
        count = 0
        for at in range(-half, columns):
            if at > half and at + half < columns:
                _exchange(window, count, line[at - half - 1], line[at + half])
            elif at > half:
                _take_out(window, count, line[at - half - 1])
                count -= 1
            elif at + half < columns:
                _put_in(window, count, line[at + half])
                count += 1
            if at >= 0:
                result[at] = window[(count - 1) // 2]


@dataclass(frozen=True, slots=True)
class Parts:
    """Band power over time, split in two.

    All of shape ``(frames, bands)``; the two parts add up to the whole.
    ``steady`` is the median over time, which passes by what is shorter than half of its 0.3 s.
    """

    whole: Singles
    percussive: Singles
    sustained: Singles
    steady: Singles

    def strokes(self) -> Singles:
        """Return the power of what clearly strikes.

        ``max(whole - 4 steady, 0) p / (p + h)``.
        Percussive power below the margin is as likely to be the sustained sound's own flutter. The margin of 4 (6 dB) has the
        smallest error against separate stems on the three songs it was set with; see tests/benchmarks/standards/hits_from_mix.py.
        """
        mask = self.percussive / (self.whole + TINY)
        return np.maximum(self.whole - np.float32(MARGIN) * self.steady, np.float32(0)) * mask


def separate(power: Singles, hop_s: float) -> Parts:
    """Split band power into what strikes and what sustains.

    Parameters
    ----------
    power
        Power in sixth-octave bands over time, shape ``(frames, bands)``, as `BandPower` gives it.
    hop_s
        Time from frame to frame in seconds.

    Returns
    -------
    Parts
        ``percussive = power * p / (p + h)`` and ``sustained = power * h / (p + h)``, with ``p`` the median over 2.5 octaves and
        ``h`` the median over 0.3 s (soft mask of Fitzgerald 2010, exponent 2 on magnitudes).

    Examples
    --------
    >>> power = np.zeros((200, 62), np.float32)
    >>> power[:, 30] = 1.0  # a held tone
    >>> power[100] += 1.0  # a stroke
    >>> parts = separate(power, 0.0058)
    >>> parts.percussive[100, 10].item(), parts.sustained[50, 30].item()
    (1.0, 1.0)
    """
    frames = len(power)
    if frames == 0:
        return Parts(power, power, power, power)
    thinned = np.ascontiguousarray(power[::THIN].T)
    steady = np.empty_like(thinned)
    running_median(thinned, max(round(MEDIAN_S / 2 / hop_s / THIN), 1), steady)
    broad = np.empty_like(power)
    running_median(np.ascontiguousarray(power), max(round(MEDIAN_OCTAVES * 6 / 2), 1), broad)
    sustained = np.repeat(steady.T, THIN, axis=0)[:frames]
    mask = broad / (broad + sustained + TINY)
    percussive = power * mask
    return Parts(power, percussive, power - percussive, sustained)
