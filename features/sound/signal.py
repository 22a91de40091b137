"""Sound in memory, and the protocol it is read through.

Every measurement uses it.
Samples are planar: shape ``(channels, frames)``, float32, full scale = 1.0 (values above it are kept).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

BLOCK_FRAMES = 1 << 17
ResultT_co = TypeVar("ResultT_co", covariant=True)


class Source(Protocol):
    """Anything that can be read in pieces.

    A `Signal`, or a long file opened by `features.sound.load`.
    """

    @property
    def rate_hz(self) -> int:
        """Sampling rate in Hz."""

    @property
    def channels(self) -> int:
        """Number of channels, 1 or 2."""

    @property
    def frames(self) -> int:
        """Length in sample frames."""

    def read(self, start: int, count: int) -> Samples:
        """Return some frames, cut at the end.

        Frames ``start`` to ``start + count``, shape ``(channels, n)``.
        """

    def blocks(self, size: int = BLOCK_FRAMES) -> Iterator[Samples]:
        """Yield the whole sound once.

        In order, in blocks of at most ``size`` frames.
        """


class Meter(Protocol[ResultT_co]):
    """A measurement that is fed block by block.

    Its memory does not grow with the song.
    """

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``.

        ``n`` may differ from call to call.
        """

    def finish(self) -> ResultT_co:
        """Return the result. No `push` after it."""


@dataclass(frozen=True, slots=True)
class Signal:
    """A sound held in memory.

    ``samples`` of shape ``(channels, frames)`` at ``rate_hz``.
    """

    samples: Samples
    rate_hz: int

    def __post_init__(self) -> None:
        """Check the shape."""
        if self.samples.ndim != 2:
            message = f"samples must have the shape (channels, frames), not {self.samples.shape}"
            raise ValueError(message)

    @property
    def channels(self) -> int:
        """Number of channels."""
        return int(self.samples.shape[0])

    @property
    def frames(self) -> int:
        """Length in sample frames."""
        return int(self.samples.shape[1])

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate_hz

    def read(self, start: int, count: int) -> Samples:
        """Return a view of frames ``start`` to ``start + count``."""
        return self.samples[:, max(start, 0) : max(start, 0) + count]

    def blocks(self, size: int = BLOCK_FRAMES) -> Iterator[Samples]:
        """Yield the whole signal in blocks.

        Of at most ``size`` frames.
        """
        for start in range(0, self.frames, size):
            yield self.samples[:, start : start + size]
