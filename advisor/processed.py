"""A song with remedies in place, read in pieces like the song itself, so that its length costs no memory."""

from collections.abc import Iterator, Sequence

import numpy as np

from advisor.trials import Apply
from features.signal import BLOCK_FRAMES, Samples, Signal, Source
from rules.remedy import Remedy

CHUNK_S = 30.0
LEAD_S = 2.0  # read before each chunk so that filters and compressors have settled when it starts


class Processed:
    """`Source` of a song after remedies. Chunks are processed with a lead-in that is thrown away."""

    def __init__(self, source: Source, remedies: Sequence[Remedy], apply: Apply) -> None:
        self.rate_hz, self.channels, self.frames = source.rate_hz, source.channels, source.frames
        self._source, self._remedies, self._apply = source, tuple(remedies), apply
        self._whole = self._process(source.samples) if isinstance(source, Signal) else None

    def _process(self, samples: Samples) -> Samples:
        sound = Signal(samples, self.rate_hz)
        for remedy in self._remedies:
            sound = self._apply(remedy, sound)
        return sound.samples

    def read(self, start: int, count: int) -> Samples:
        """Return processed frames ``start`` to ``start + count``."""
        if self._whole is not None:
            return self._whole[:, max(start, 0) : max(start, 0) + count]
        lead = min(round(LEAD_S * self.rate_hz), max(start, 0))
        tail = round(0.1 * self.rate_hz)
        around = self._process(np.array(self._source.read(start - lead, count + lead + tail)))
        return around[:, lead : lead + min(count, max(self.frames - start, 0))]

    def blocks(self, size: int = BLOCK_FRAMES) -> Iterator[Samples]:
        """Yield the processed song once, in order, in blocks of at most ``size`` frames."""
        chunk = max(round(CHUNK_S * self.rate_hz), size)
        for start in range(0, self.frames, chunk):
            piece = self.read(start, chunk)
            for first in range(0, piece.shape[1], size):
                yield piece[:, first : first + size]
