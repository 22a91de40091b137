"""Where the same music is in two files, and when it is not the same: offsets planted by hand."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, resample_poly, sosfilt

from advisor.sources.alignment import align
from features.sound.signal import Samples, Signal

RATE_HZ = 22050
SECONDS = 24.0


def song(seed: int, seconds: float = SECONDS, beat_s: float = 0.5) -> Samples:
    """Return drums, a bass line and noise hats that follow a random score; the same seed is the same song."""
    score = np.random.default_rng(seed)
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    sound = np.zeros(len(time_s))
    for beat in range(int(seconds / beat_s)):
        start = int(beat * beat_s * RATE_HZ)
        rest = time_s[: len(time_s) - start]
        note_hz = 55.0 * 2.0 ** (score.integers(0, 24) / 12.0)
        sound[start:] += score.uniform(0.1, 0.4) * np.sin(2 * np.pi * note_hz * rest) * np.exp(-rest * 4.0)
        hit = score.normal(size=2000) * np.exp(-np.arange(2000) / 300.0) * score.uniform(0.0, 0.3)
        end = min(start + 2000, len(sound))
        sound[start:end] += hit[: end - start]
    return np.stack((sound, 0.8 * sound + 0.02 * score.normal(size=len(sound)))).astype(np.float32)


def remixed(samples: Samples) -> Samples:
    """Return the song brighter, compressed and quieter: a later bounce."""
    bright = sosfilt(butter(1, 800.0, "high", fs=RATE_HZ, output="sos"), samples)
    return np.asarray(0.4 * np.tanh(3.0 * (0.5 * samples + bright)), dtype=np.float32)


@pytest.fixture(scope="module")
def original() -> Samples:
    return song(1)


@pytest.mark.parametrize("frames", [0, 441, 12345, 66150, -441, -100000])
def test_the_offset_is_found_to_the_sample_through_a_new_mix(original: Samples, frames: int) -> None:
    later = remixed(original)
    moved = np.concatenate((np.zeros((2, frames), np.float32), later), axis=1) if frames >= 0 else later[:, -frames:]
    alignment = align(Signal(original, RATE_HZ), Signal(moved, RATE_HZ))
    assert alignment.same
    assert alignment.offset_s * RATE_HZ == pytest.approx(frames, abs=3.0)
    assert not alignment.upside_down


def test_another_rate_and_upside_down(original: Samples) -> None:
    other = -np.asarray(resample_poly(original, 320, 147, axis=1), dtype=np.float32)
    alignment = align(Signal(original, RATE_HZ), Signal(other, 48000))
    assert alignment.same
    assert alignment.upside_down
    assert alignment.offset_s == pytest.approx(0.0, abs=0.0005)


def test_mono_against_stereo(original: Samples) -> None:
    mono: NDArray[np.float32] = original.mean(axis=0, keepdims=True)
    assert align(Signal(original, RATE_HZ), Signal(mono, RATE_HZ)).same


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_another_song_at_the_same_tempo_is_not_the_same(original: Samples, seed: int) -> None:
    alignment = align(Signal(original, RATE_HZ), Signal(song(seed), RATE_HZ))
    assert not alignment.same
    assert alignment.offset_s == 0.0


@pytest.mark.parametrize(
    "samples", [np.zeros((2, RATE_HZ * 8), np.float32), np.zeros((2, 1), np.float32), song(5, 0.2)], ids=["silence", "one", "short"]
)
def test_silence_and_scraps_do_not_crash(original: Samples, samples: Samples) -> None:
    assert not align(Signal(original, RATE_HZ), Signal(samples, RATE_HZ)).same
    align(Signal(samples, RATE_HZ), Signal(samples, RATE_HZ))
