"""Tempo from the onset strength."""

import numpy as np
import pytest

from features.hits.audibility import HitMeter, measure_hits
from features.hits.tempo import tempo_bpm
from features.sound.signal import Samples
from tests import signals


def tempo_of(samples: Samples, rate_hz: int = 44100) -> float | None:
    meter = HitMeter(rate_hz, samples.shape[0])
    meter.push(samples)
    return measure_hits(meter.finish()).tempo_bpm


@pytest.mark.parametrize("bpm", [75.0, 92.0, 120.0, 128.5, 150.0])
def test_tempo_of_a_drum_pattern(bpm: float) -> None:
    tempo = tempo_of(signals.drums(24.0, 44100, bpm))
    assert tempo == pytest.approx(bpm, abs=0.3)


def test_no_steady_beat() -> None:
    rng = np.random.default_rng(2)
    times = np.cumsum(rng.exponential(0.6, 60))
    sound = signals.placed(signals.snare_wave(44100), times[times < 29.0].tolist(), 30.0, 44100)
    assert tempo_of(signals.stereo(sound)) is None
    assert tempo_of(signals.silence(10.0, 44100)) is None


def test_too_short_to_tell() -> None:
    strength = np.zeros(1000, np.float32)
    strength[::100] = 10.0
    assert tempo_bpm(strength, 0.005) is None
    assert tempo_bpm(np.zeros(0, np.float32), 0.005) is None
