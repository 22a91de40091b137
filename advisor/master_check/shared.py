"""The stretch that a mix and its master share.

Two sources of one rate, length and number of channels, aligned to the sample.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from advisor.app.errors import RequestError
from advisor.sources.aligned import Resampled
from advisor.sources.alignment import align
from advisor.sources.chunked import ReadByPlace
from features.sound.signal import Samples, Source

LEAST_S = 5.0


class Cut(ReadByPlace):
    """A part of a source, perhaps inverted or folded.

    Implements `Source`.
    """

    def __init__(self, source: Source, start: int, frames: int, *, inverted: bool = False, fold: bool = False) -> None:
        """Take ``frames`` frames from ``start`` on."""
        self.rate_hz, self.frames = source.rate_hz, frames
        self.channels = 1 if fold else source.channels
        self._source, self._start, self._inverted = source, start, inverted

    @property
    def whole(self) -> bool:
        """Whether this is the source itself."""
        return (self._start, self.frames, self.channels) == (0, self._source.frames, self._source.channels) and not self._inverted

    def read(self, start: int, count: int) -> Samples:
        """Return frames of the part, cut at its end."""
        first = min(max(start, 0), self.frames)
        part = self._source.read(self._start + first, min(max(count, 0), self.frames - first))
        if self.channels < part.shape[0]:
            part = part.mean(axis=0, keepdims=True)
        return np.negative(part) if self._inverted else part


@dataclass(frozen=True, slots=True)
class Shared:
    """Mix and master where both play.

    The offset, where the stretch starts and ends in the mix, and what the reader should know.
    """

    mix: Cut
    master: Cut
    offset_s: float
    start_s: float
    end_s: float
    notes: tuple[str, ...]


def share(mix: Source, master: Source, names: tuple[str, str]) -> Shared:
    """Align a master with its mix.

    Raises `RequestError` where one has nothing of the other.
    """
    alignment = align(mix, master)
    if not alignment.same:
        raise RequestError(
            f"{names[1]} does not seem to be a master of {names[0]}: no stretch of the mix was found in it. Give the mix that it was made "
            "from, or leave out --mix to check the master alone."
        )
    rate = mix.rate_hz
    like_mix: Source = master if master.rate_hz == rate else Resampled(master, rate)
    offset = round(alignment.offset_s * rate)
    start, end = max(0, -offset), min(mix.frames, like_mix.frames - offset)
    if end - start < LEAST_S * rate:
        raise RequestError(
            f"{names[0]} and {names[1]} share less than {LEAST_S:.0f} seconds, which is too little to compare. Give longer bounces."
        )
    fold = mix.channels != master.channels
    return Shared(
        Cut(mix, start, end - start, fold=fold),
        Cut(like_mix, start + offset, end - start, inverted=alignment.upside_down, fold=fold),
        offset / rate, start / rate, end / rate,
        tuple(_notes(mix, master, fold=fold, upside_down=alignment.upside_down)),
    )  # fmt: skip


def _notes(mix: Source, master: Source, *, fold: bool, upside_down: bool) -> Iterator[str]:
    if mix.rate_hz != master.rate_hz:
        yield f"The master was resampled from {master.rate_hz / 1000:g} to {mix.rate_hz / 1000:g} kHz to be compared with the mix"
    if fold:
        kinds = {1: "mono", 2: "stereo"}
        words = f"The mix is {kinds[mix.channels]} and the master {kinds[master.channels]}"
        yield f"{words}: both were folded to mono, and width is not compared"
    if upside_down:
        yield "The master has inverted polarity against the mix; it was flipped to be compared"
