"""A song with remedies in place, read in pieces.

Like the song itself, so that its length costs no memory.
"""

from collections import deque
from collections.abc import Iterator, Sequence

import numpy as np

from advisor.planning.trials import Apply
from advisor.sources.chunked import Chunked
from features.sound.signal import Samples, Signal, Source
from rules.remedy import Remedy

CHUNK_S = 30.0
LEAD_S = 2.0  # read before each chunk, and thrown away: filters and compressors have settled when the chunk starts
TAIL_S = 0.3  # read after it: look-ahead and separation see past its end


def states(source: Source, remedies: Sequence[Remedy], apply: Apply[Signal], start: int, count: int) -> Iterator[Samples]:
    """Yield a stretch as it is, then with each remedy.

    Frames ``start`` to ``start + count``, with one remedy more in place each time.
    """
    lead = min(round(LEAD_S * source.rate_hz), start)
    rest = count + round(TAIL_S * source.rate_hz)
    sound = Signal(np.array(source.read(start - lead, lead + rest), np.float32), source.rate_hz)
    inside = slice(lead, lead + min(count, source.frames - start))
    yield sound.samples[:, inside].copy()
    for remedy in remedies:
        sound = apply(remedy, sound)
        yield sound.samples[:, inside].copy()


class Processed(Chunked):
    """`Source` of a song after remedies, made chunk by chunk."""

    def __init__(self, source: Source, remedies: Sequence[Remedy], apply: Apply[Signal]) -> None:
        """Take the song, the remedies, and what applies them.

        The remedies stand in their order.
        """
        super().__init__(source.rate_hz, source.channels, source.frames, CHUNK_S)
        self._source, self._remedies, self._apply = source, tuple(remedies), apply

    def make(self, start: int, count: int) -> Samples:
        """Return processed frames ``start`` to ``start + count``."""
        return deque(states(self._source, self._remedies, self._apply, start, count), maxlen=1)[0]
