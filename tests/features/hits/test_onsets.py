"""When something strikes."""

import librosa
import numpy as np
import pytest

from features.hits.audibility import HitMeter
from features.hits.onsets import group_of
from features.sound.signal import Samples
from tests import signals


def onsets(samples: Samples, rate_hz: int) -> np.ndarray:
    meter = HitMeter(rate_hz, samples.shape[0])
    meter.push(samples)
    return meter.finish().times_s


def matched(times_s: np.ndarray, planted: np.ndarray, within_s: float = 0.03) -> int:
    return int(sum(bool(len(times_s)) and np.min(np.abs(times_s - time)) <= within_s for time in planted))


def uneven_times(duration_s: float, seed: int) -> np.ndarray:
    """Hits 120-700 ms apart."""
    steps = np.random.default_rng(seed).uniform(0.12, 0.7, int(duration_s / 0.4))
    times = 0.5 + np.cumsum(steps)
    return np.asarray(times[times < duration_s - 0.5])


@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
@pytest.mark.parametrize("bed", ["chord", "noise"])
def test_planted_hits_are_found(rate_hz: int, bed: str) -> None:
    duration = 20.0
    times = uneven_times(duration, 3)
    sound = 0.1 * signals.chord_wave(duration, rate_hz) if bed == "chord" else signals.pink_wave(duration, rate_hz, -30.0)
    hats = signals.hat_wave(rate_hz) if rate_hz < 50000 else signals.snare_wave(rate_hz)  # at 96 kHz the hats lie above hearing
    for number, hit in enumerate((signals.kick_wave(rate_hz), signals.snare_wave(rate_hz), hats)):
        sound = sound + signals.placed(hit, times[number::3].tolist(), duration, rate_hz)
    times_s = onsets(signals.stereo(0.6 * sound), rate_hz)
    assert matched(times_s, times) >= 0.9 * len(times)
    assert matched(times, times_s) >= 0.9 * len(times_s)


def test_onset_times_are_right_within_a_hop() -> None:
    times = np.arange(1, 9) * 0.777
    sound = signals.placed(signals.snare_wave(44100), times.tolist(), 8.0, 44100) + signals.pink_wave(8.0, 44100, -60.0)
    times_s = onsets(signals.stereo(sound), 44100)
    assert max(np.min(np.abs(times_s - time)) for time in times) < 0.010
    assert len(times_s) <= len(times) + 1


def test_at_least_50_ms_apart() -> None:
    times_s = onsets(signals.stereo(signals.placed(signals.hat_wave(44100), np.arange(0, 5, 0.02).tolist(), 5.0, 44100)), 44100)
    assert len(times_s) < 2 or np.diff(times_s).min() >= 0.045


def test_held_sounds_and_noise_strike_rarely() -> None:
    assert len(onsets(signals.stereo(signals.chord_wave(10.0, 44100)), 44100)) <= 2  # its start and its end
    assert len(onsets(signals.pink(20.0, 44100, -20.0), 44100)) <= 10


def test_librosa_finds_the_same_beat() -> None:
    samples = signals.drums(10.0, 44100)
    times_s = onsets(samples, 44100)
    other = librosa.onset.onset_detect(y=samples.mean(axis=0), sr=44100, hop_length=256, units="time")
    assert matched(times_s, np.asarray(other), 0.04) >= 0.9 * len(other)
    assert matched(np.asarray(other), times_s, 0.04) >= 0.9 * len(times_s)


def test_groups() -> None:
    assert group_of(np.array([29.0, 30.0, 400.0, 15999.0, 16000.0])).tolist() == [-1, 0, 2, 4, -1]
