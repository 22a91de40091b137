"""A buffer pauses whenever it is full, wherever blocks are cut, and carries on with what was kept."""

from itertools import pairwise

import numpy as np
import pytest

from features.sound.stream_buffer import StreamBuffer

SOUND = np.arange(1, 31, dtype=np.float32)[None]


@pytest.mark.parametrize("block_frames", [1, 3, 7, 30])
def test_each_stretch_overlaps_the_one_before(block_frames: int) -> None:
    buffer = StreamBuffer(1, 8, 2)
    stretches = []
    for start in range(0, SOUND.shape[1], block_frames):
        for _ in buffer.fill(SOUND[:, start : start + block_frames]):
            stretches.append(buffer.samples[0].tolist())
            buffer.carry(3)
    assert stretches[0] == [0, 0, 1, 2, 3, 4, 5, 6]
    assert stretches[1] == [4, 5, 6, 7, 8, 9, 10, 11]
    assert [stretch[-1] for stretch in stretches] == [6, 11, 16, 21, 26]
    assert all(later[:3] == earlier[-3:] for earlier, later in pairwise(stretches))


def test_silence_follows_the_sound() -> None:
    buffer = StreamBuffer(1, 8, 0)
    assert not list(buffer.fill(SOUND[:, :5]))
    buffer.fill_with_silence()
    assert buffer.samples[0].tolist() == [1, 2, 3, 4, 5, 0, 0, 0]
