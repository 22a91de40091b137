"""Stems in mix time.

At the mix's rate, moved, scaled, as long as the mix; and sums of them; all read in pieces.
"""

from collections.abc import Sequence
from math import ceil, gcd
from typing import Any

import numpy as np

from advisor.sources.chunked import Chunked, ReadByPlace
from features.sound.signal import Samples, Source

CHUNK_S = 8.0
MARGIN_S = 0.1  # read on both sides of a chunk; the resampler's filter is far shorter
QUALITY = "HQ"


class Resampled(Chunked):
    """A `Source` at another rate.

    Chunks are whole seconds, and start and end on places that both rates share, so each is the piece that resampling the whole
    would give (to the rounding of single precision), whatever is read in which order.
    """

    def __init__(self, source: Source, rate_hz: int) -> None:
        """Take the sound and the rate it is wanted at."""
        from soxr import resample  # noqa: PLC0415 - only needed where rates differ

        frames = ceil(source.frames * rate_hz / source.rate_hz)
        super().__init__(rate_hz, source.channels, frames, CHUNK_S)
        self._source = source
        self._resample: Any = resample
        shared = gcd(rate_hz, source.rate_hz)
        self._period_in, self._period_out = source.rate_hz // shared, rate_hz // shared
        self._margin = ceil(MARGIN_S * rate_hz / self._period_out)  # in periods

    def make(self, start: int, count: int) -> Samples:
        """Return resampled frames. ``start`` is a whole number of seconds."""
        first = start // self._period_out
        before = min(self._margin, first)
        periods = before + ceil(count / self._period_out) + self._margin
        sound = self._source.read((first - before) * self._period_in, periods * self._period_in)
        made = self._resample(np.ascontiguousarray(sound.T), self._source.rate_hz, self.rate_hz, quality=QUALITY)
        cut = before * self._period_out
        return fitted(np.ascontiguousarray(made[cut : cut + count].T), count)


def fitted(samples: Samples, count: int) -> Samples:
    """Return samples padded with silence or cut to ``count`` frames."""
    if samples.shape[1] >= count:
        return samples[:, :count]
    whole = np.zeros((samples.shape[0], count), np.float32)
    whole[:, : samples.shape[1]] = samples
    return whole


class Aligned(ReadByPlace):
    """A stem in mix time. Implements `Source`."""

    def __init__(self, source: Source, frames: int, offset_frames: int = 0, gain: float = 1.0, *, one_channel: bool = False) -> None:
        """Take a stem at the mix's rate, and its place.

        ``frames`` is the mix's length; outside the stem there is silence.

        With ``one_channel`` a stereo stem is folded to the mean of its channels, for a mix that is mono.
        """
        self.rate_hz, self.frames = source.rate_hz, frames
        self.channels = 1 if one_channel else source.channels
        self.offset_frames, self.gain = offset_frames, gain
        self._source = source

    def read(self, start: int, count: int) -> Samples:
        """Return frames of mix time, cut at the mix's end."""
        first = min(max(start, 0), self.frames)
        count = min(max(count, 0), self.frames - first)
        wanted = first - self.offset_frames  # in the stem's own time
        silence = min(max(-wanted, 0), count)
        sound = self._source.read(max(wanted, 0), count - silence) if count > silence else np.zeros((self._source.channels, 0), np.float32)
        if self.channels < sound.shape[0]:
            sound = sound.mean(axis=0, keepdims=True)
        if silence == 0 and sound.shape[1] == count:
            return sound if self.gain == 1.0 else np.asarray(sound * np.float32(self.gain))
        whole = np.zeros((self.channels, count), np.float32)
        np.multiply(sound, np.float32(self.gain), out=whole[:, silence : silence + sound.shape[1]])
        return whole

    def moved(self, offset_frames: int, gain: float) -> "Aligned":
        """Return the same stem with another place and gain."""
        return Aligned(self._source, self.frames, offset_frames, gain, one_channel=self.channels < self._source.channels)


class Summed(ReadByPlace):
    """The sum of some sources, each times a factor.

    Mono ones go to both channels; implements `Source`.
    """

    def __init__(self, sources: Sequence[Source], channels: int, factors: Sequence[float] | None = None) -> None:
        """Take sources of one rate and length."""
        self.rate_hz, self.frames, self.channels = sources[0].rate_hz, sources[0].frames, channels
        self._sources = tuple(sources)
        self._factors = (1.0,) * len(sources) if factors is None else tuple(factors)

    def read(self, start: int, count: int) -> Samples:
        """Return ``count`` frames from ``start``, cut at the end."""
        first = min(max(start, 0), self.frames)
        total = np.zeros((self.channels, min(max(count, 0), self.frames - first)), np.float32)
        for source, factor in zip(self._sources, self._factors, strict=True):
            part = source.read(start, count)
            total += part if factor == 1.0 else part * np.float32(factor)
        return total
