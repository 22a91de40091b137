"""A processed song read in pieces is the processed song."""

import numpy as np
import pytest

from advisor.planning.processed import CHUNK_S, Processed
from advisor.remedies.apply import apply
from features.sound.signal import Signal
from rules.remedy import Remedy

RATE_HZ = 8000
SECONDS = 2.3 * CHUNK_S


@pytest.fixture(scope="module")
def song() -> Signal:
    generator = np.random.default_rng(2)
    swell = 0.1 + 0.1 * np.sin(2 * np.pi * np.arange(int(SECONDS * RATE_HZ)) / RATE_HZ)
    return Signal((swell * generator.normal(size=(2, swell.size))).astype(np.float32), RATE_HZ)


STEPS = (
    Remedy("bell", frequency_hz=250.0, gain_db=-4.0, q=1.0),
    Remedy("compressor", threshold_dbfs=-20.0, ratio=2.0, attack_ms=30.0, release_ms=100.0),
    Remedy("high_pass", frequency_hz=30.0, order=2),
)


def test_pieces_equal_the_whole(song: Signal) -> None:
    whole = song
    for step in STEPS:
        whole = apply(step, whole)
    pieces = np.concatenate(list(Processed(song, STEPS, apply).blocks(10_000)), axis=1)
    assert pieces.shape == whole.samples.shape
    assert float(np.abs(pieces - whole.samples).max()) < 1e-4


def test_any_stretch_can_be_read(song: Signal) -> None:
    source = Processed(song, STEPS[:1], apply)
    whole = np.concatenate(list(source.blocks()), axis=1)
    start = int((CHUNK_S - 1.0) * RATE_HZ)
    assert np.array_equal(source.read(start, 2 * RATE_HZ), whole[:, start : start + 2 * RATE_HZ])
    assert source.read(song.frames - 10, 100).shape == (2, 10)
    assert source.read(song.frames + 5, 100).shape == (2, 0)


def test_without_remedies_it_is_the_song(song: Signal) -> None:
    assert np.array_equal(Processed(song, (), apply).read(100, 1000), song.samples[:, 100:1100])
