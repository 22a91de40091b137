"""A song made chunk by chunk and read like any.

So its length costs no memory.
"""

from abc import ABC, abstractmethod
from collections.abc import Iterator

import numpy as np

from features.sound.signal import BLOCK_FRAMES, Samples

KEPT_CHUNKS = 2  # the outlook reads the densest stretch again


class ReadByPlace(ABC):
    """A `Source` that can be read anywhere.

    Its blocks follow from that.
    """

    rate_hz: int
    channels: int
    frames: int

    @abstractmethod
    def read(self, start: int, count: int) -> Samples:
        """Return ``count`` frames from ``start``, cut at the end."""

    def blocks(self, size: int = BLOCK_FRAMES) -> Iterator[Samples]:
        """Yield the whole sound once, in order, block by block.

        A block has at most ``size`` frames.
        """
        for start in range(0, self.frames, size):
            yield self.read(start, size)


class Chunked(ReadByPlace):
    """`Source` whose chunks are made when they are read.

    The last two are kept.
    """

    def __init__(self, rate_hz: int, channels: int, frames: int, chunk_s: float) -> None:
        """Take the song's shape and the length of a chunk."""
        self.rate_hz, self.channels, self.frames = rate_hz, channels, frames
        self._size = max(round(chunk_s * rate_hz), 1)
        self._chunks: dict[int, Samples] = {}

    @abstractmethod
    def make(self, start: int, count: int) -> Samples:
        """Return ``count`` frames from ``start``, shape ``(channels, n)``.

        Cut at the end.
        """

    def _chunk(self, number: int) -> Samples:
        if number not in self._chunks:
            while len(self._chunks) >= KEPT_CHUNKS:
                del self._chunks[next(iter(self._chunks))]
            start = number * self._size
            self._chunks[number] = self.make(start, min(self._size, self.frames - start))
        return self._chunks[number]

    def read(self, start: int, count: int) -> Samples:
        """Return ``count`` frames from ``start``, cut at the end."""
        first, last = max(start, 0), min(max(start, 0) + count, self.frames)
        pieces = []
        while first < last:
            number, place = divmod(first, self._size)
            piece = self._chunk(number)[:, place : place + last - first]
            pieces.append(piece)
            first += piece.shape[1]
        return np.concatenate(pieces, axis=1) if pieces else np.zeros((self.channels, 0), np.float32)
