"""Stems in mix time read the same whatever is read, in which order."""

import numpy as np
import pytest
import soxr

from advisor.sources.aligned import Aligned, Resampled, Summed
from features.sound.signal import Signal
from tests import signals


@pytest.mark.parametrize(("from_hz", "to_hz"), [(48000, 44100), (44100, 48000), (96000, 44100), (22050, 48000), (44056, 44100)])
def test_resampled_in_pieces_is_the_whole_resampled(from_hz: int, to_hz: int) -> None:
    sound = signals.pink(19.0, from_hz, -12.0, 3)
    whole = soxr.resample(sound.T, from_hz, to_hz, "HQ").T
    source = Resampled(Signal(sound, from_hz), to_hz)
    assert abs(source.frames - whole.shape[1]) <= 1
    pieces = np.concatenate(list(source.blocks(77_777)), axis=1)
    shared = min(pieces.shape[1], whole.shape[1])
    inside = slice(0, shared - 2000)  # at the very end the whole knows that silence follows, as the piece does
    rounding = 2e-6 if from_hz != 44056 else 5e-5  # the step of a ratio of large numbers is rounded by the resampler itself
    assert float(np.abs(pieces[:, inside] - whole[:, inside]).max()) < rounding
    assert float(np.abs(pieces[:, :shared] - whole[:, :shared]).max()) < 1e-4


def test_any_stretch_of_a_resampled_sound() -> None:
    source = Resampled(Signal(signals.pink(20.0, 48000, -12.0, 3), 48000), 44100)
    whole = np.concatenate(list(source.blocks()), axis=1)
    for start in (44100 * 17, 100, 44100 * 8 - 50, 0):
        assert np.array_equal(source.read(start, 3000), whole[:, start : start + 3000])
    assert source.read(source.frames - 5, 100).shape == (2, 5)


def test_a_tone_keeps_its_level_and_frequency() -> None:
    source = Resampled(Signal(signals.sine(1000.0, 10.0, 48000, -6.0), 48000), 44100)
    assert np.allclose(source.read(50_000, 200_000), signals.sine(1000.0, 10.0, 44100, -6.0)[:, 50_000:250_000], atol=1e-5)


@pytest.mark.parametrize("offset", [0, 37, -50, 500, -500])
def test_offset_gain_and_length(offset: int) -> None:
    generator = np.random.default_rng(1)
    sound = generator.normal(size=(2, 200)).astype(np.float32)
    frames = 260
    truth = np.zeros((2, frames), np.float32)
    for frame in range(frames):
        if 0 <= frame - offset < 200:
            truth[:, frame] = 0.5 * sound[:, frame - offset]
    source = Aligned(Signal(sound, 8000), frames, offset, 0.5)
    assert np.array_equal(source.read(0, frames), truth)
    assert np.array_equal(np.concatenate(list(source.blocks(33)), axis=1), truth)
    assert source.read(250, 100).shape == (2, 10)
    assert source.read(300, 10).shape == (2, 0)
    assert np.array_equal(source.moved(0, 1.0).read(0, 200), sound)


def test_sums_with_factors_and_mono() -> None:
    sound = Signal(np.full((1, 10), 0.5, np.float32), 8000)
    two = Signal(np.full((2, 10), 0.25, np.float32), 8000)
    total = Summed([sound, two], 2, [1.0, -2.0])
    assert np.allclose(total.read(2, 4), np.zeros((2, 4)))
    assert np.allclose(Summed([sound, two], 2).read(8, 10), np.full((2, 2), 0.75))


def test_one_channel_is_the_mean() -> None:
    wide = Signal(np.array([[1.0, 0.0], [0.0, 0.5]], np.float32), 8000)
    assert np.array_equal(Aligned(wide, 2, one_channel=True).read(0, 2), [[0.5, 0.25]])
