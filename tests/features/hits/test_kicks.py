"""Which hits are kicks."""

import numpy as np
import pytest

from features.hits.audibility import HitMeter
from features.hits.kicks import Kicks, find_kicks
from features.sound.signal import Samples
from tests import signals

RATE = 44100


def kicks_of(samples: Samples, rate_hz: int = RATE) -> Kicks:
    meter = HitMeter(rate_hz, samples.shape[0])
    meter.push(samples)
    return find_kicks(meter.finish())


@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
def test_kicks_among_drums_and_a_chord(rate_hz: int) -> None:
    samples = signals.drums(16.0, rate_hz) + signals.stereo(0.1 * signals.chord_wave(16.0, rate_hz))
    planted = np.array(signals.beat_times(16.0))
    times_s = kicks_of(samples, rate_hz).times_s
    near = [float(np.min(np.abs(planted - time))) for time in times_s]
    assert sum(distance_s < 0.02 for distance_s in near) >= 0.9 * len(planted)
    assert sum(distance_s > 0.02 for distance_s in near) <= 0.1 * len(times_s)


def test_lift_falls_when_the_bass_rises() -> None:
    kick = signals.placed(signals.kick_wave(RATE), signals.beat_times(16.0), 16.0, RATE)
    lifts = [
        float(np.median(kicks_of(signals.stereo(kick + level * signals.sine_wave(100.0, 16.0, RATE))).lift_db))
        for level in (0.02, 0.1, 0.2)
    ]
    assert lifts[0] > lifts[1] > lifts[2] > 0.0


@pytest.mark.parametrize("without", ["hats", "noise", "chord", "silence"])
def test_no_kick_no_kicks(without: str) -> None:
    sounds = {
        "hats": signals.placed(signals.hat_wave(RATE), signals.beat_times(16.0), 16.0, RATE),
        "noise": signals.pink_wave(16.0, RATE, -20.0),
        "chord": signals.chord_wave(16.0, RATE),
        "silence": np.zeros(16 * RATE),
    }
    kicks = kicks_of(signals.stereo(0.5 * sounds[without]))
    assert len(kicks) == 0
    assert kicks.frames.dtype == np.int64


def test_three_kicks_are_too_few() -> None:
    few = signals.placed(signals.kick_wave(RATE), (1.0, 2.0, 3.0), 5.0, RATE)
    more = signals.placed(signals.kick_wave(RATE), (0.5, 1.5, 2.5, 3.5, 4.2), 5.0, RATE)
    assert len(kicks_of(signals.stereo(few))) == 0
    assert len(kicks_of(signals.stereo(more))) == 5
