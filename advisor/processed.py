"""A song with remedies in place, read in pieces like the song itself, so that its length costs no memory."""

from collections import deque
from collections.abc import Iterator, Sequence

import numpy as np

from advisor.trials import Apply
from features.signal import BLOCK_FRAMES, Samples, Signal, Source
from rules.remedy import Remedy

CHUNK_S = 30.0
LEAD_S = 2.0  # read before each chunk, and thrown away: filters and compressors have settled when the chunk starts
TAIL_S = 0.3  # read after it: look-ahead and separation see past its end
KEPT_CHUNKS = 2  # the outlook reads the densest stretch again


def states(source: Source, remedies: Sequence[Remedy], apply: Apply[Signal], start: int, count: int) -> Iterator[Samples]:
    """Yield frames ``start`` to ``start + count`` of the song as they are, then with one remedy more in place each time."""
    lead = min(round(LEAD_S * source.rate_hz), start)
    rest = count + round(TAIL_S * source.rate_hz)
    sound = Signal(np.array(source.read(start - lead, lead + rest), np.float32), source.rate_hz)
    inside = slice(lead, lead + min(count, source.frames - start))
    yield sound.samples[:, inside].copy()
    for remedy in remedies:
        sound = apply(remedy, sound)
        yield sound.samples[:, inside].copy()


class Processed:
    """`Source` of a song after remedies, made chunk by chunk."""

    def __init__(self, source: Source, remedies: Sequence[Remedy], apply: Apply[Signal]) -> None:
        """Take the song, the remedies in their order, and what applies them."""
        self.rate_hz, self.channels, self.frames = source.rate_hz, source.channels, source.frames
        self._source, self._remedies, self._apply = source, tuple(remedies), apply
        self._size = max(round(CHUNK_S * self.rate_hz), 1)
        self._chunks: dict[int, Samples] = {}

    def _chunk(self, number: int) -> Samples:
        if number not in self._chunks:
            while len(self._chunks) >= KEPT_CHUNKS:
                del self._chunks[next(iter(self._chunks))]
            self._chunks[number] = self._make(number * self._size)
        return self._chunks[number]

    def _make(self, start: int) -> Samples:
        return deque(states(self._source, self._remedies, self._apply, start, self._size), maxlen=1)[0]

    def read(self, start: int, count: int) -> Samples:
        """Return processed frames ``start`` to ``start + count``, cut at the end."""
        first, last = max(start, 0), min(max(start, 0) + count, self.frames)
        pieces = []
        while first < last:
            number, place = divmod(first, self._size)
            piece = self._chunk(number)[:, place : place + last - first]
            pieces.append(piece)
            first += piece.shape[1]
        return np.concatenate(pieces, axis=1) if pieces else np.zeros((self.channels, 0), np.float32)

    def blocks(self, size: int = BLOCK_FRAMES) -> Iterator[Samples]:
        """Yield the processed song once, in order, in blocks of at most ``size`` frames."""
        for start in range(0, self.frames, size):
            yield self.read(start, size)
