"""Noise between sounds: its level where it is noise, and nothing of a soft note that rings there."""

import numpy as np
import pytest

from features.file_faults.noise_floor import QuietestHalf, noise_floor_dbfs
from features.sound.signal import Samples
from tests import signals

RATE_HZ = 44100


def floor_of(samples: Samples, rate_hz: int = RATE_HZ, block: int = 1 << 16, song_dbfs: float = -15.0) -> tuple[float | None, str]:
    meter = QuietestHalf(rate_hz, samples.shape[0])
    for start in range(0, samples.shape[1], block):
        meter.push(samples[:, start : start + block])
    return noise_floor_dbfs(meter, song_dbfs)


def level_of(samples: Samples, rate_hz: int = RATE_HZ) -> float:
    level, why = floor_of(samples, rate_hz)
    assert level is not None, why
    return level


def hiss(duration_s: float, rms_dbfs: float, rate_hz: int = RATE_HZ, channels: int = 2, seed: int = 4) -> Samples:
    noise = np.random.default_rng(seed).normal(size=(channels, round(duration_s * rate_hz)))
    return np.asarray(noise * 10 ** (rms_dbfs / 20), np.float32)


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
def test_white_noise_is_read_at_its_level(rate_hz: int, channels: int) -> None:
    assert level_of(hiss(2.0, -60.0, rate_hz, channels), rate_hz) == pytest.approx(-60.0, abs=0.5)


def test_pink_noise_too() -> None:
    assert level_of(signals.pink(2.0, RATE_HZ, rms_dbfs=-60.0)) == pytest.approx(-60.0, abs=1.5)


@pytest.mark.parametrize("note_dbfs", [-46.0, -50.0, -55.0])
def test_a_note_over_the_noise_changes_nothing(note_dbfs: float) -> None:
    chord = signals.chord_wave(2.0, RATE_HZ)
    chord = chord * 10 ** (note_dbfs / 20) / np.sqrt(np.mean(chord**2))
    assert level_of(hiss(2.0, -75.0) + signals.stereo(chord)) == pytest.approx(-75.0, abs=1.0)


def test_a_soft_note_without_noise_is_no_noise() -> None:
    chord = signals.chord_wave(2.0, RATE_HZ)
    chord = chord * 10 ** (-50.0 / 20) / np.sqrt(np.mean(chord**2))
    assert level_of(signals.stereo(chord)) < -80.0


def test_the_quietest_half_second_is_found_between_loud_ones() -> None:
    loud = hiss(1.0, -20.0, seed=1)
    samples = np.concatenate([loud, hiss(0.7, -50.0), loud, hiss(0.7, -65.0), loud], axis=1)
    assert level_of(samples) == pytest.approx(-65.0, abs=0.5)


@pytest.mark.parametrize("block", [1, 997, 4410, 300000])
def test_blocks_do_not_matter(block: int) -> None:
    samples = hiss(0.9, -60.0)[:, :-100]
    assert floor_of(samples, block=block) == floor_of(samples)


@pytest.mark.parametrize(
    "samples",
    [
        signals.silence(2.0, RATE_HZ),
        hiss(0.45, -60.0),
        hiss(2.0, -44.0),  # less than 30 dB under the song
        np.asarray(hiss(2.0, -60.0) * 10 ** (np.linspace(0.0, -40.0, 88200) / 20), np.float32),  # dying away
        np.zeros((1, 0), np.float32),
    ],
)
def test_none_without_a_steady_pause(samples: Samples) -> None:
    assert floor_of(samples) == (None, "no steady pause between sounds")
