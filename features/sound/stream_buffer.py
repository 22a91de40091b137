"""Samples of a stream that wait to be measured."""

from collections.abc import Iterator

import numpy as np

from features.sound.signal import Samples


class StreamBuffer:
    """A stretch of a stream, filled block by block.

    ``samples`` has shape ``(channels, frames)``; of its frames the first ``filled`` are known.
    """

    def __init__(self, channels: int, frames: int, filled: int) -> None:
        """Start with ``filled`` frames of silence before the sound."""
        self.samples: Samples = np.zeros((channels, frames), np.float32)
        self.filled = filled

    def fill(self, block: Samples) -> Iterator[None]:
        """Take a block, and pause whenever the buffer is full.

        Each pause is for `carry`.
        """
        taken, frames = 0, self.samples.shape[1]
        while taken < block.shape[1]:
            count = min(frames - self.filled, block.shape[1] - taken)
            self.samples[:, self.filled : self.filled + count] = block[:, taken : taken + count]
            self.filled += count
            taken += count
            if self.filled == frames:
                yield

    def carry(self, frames: int) -> None:
        """Let go of all but the last frames."""
        self.samples[:, :frames] = self.samples[:, -frames:].copy()
        self.filled = frames

    def fill_with_silence(self) -> None:
        """Let silence follow the sound to the buffer's end."""
        self.samples[:, self.filled :] = 0.0
