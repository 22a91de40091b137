"""A gain at a period of its own, told from rhythm: values by construction."""

import numpy as np
import pytest

from features.hits.audibility import HitMeter
from features.hits.pulses import measure_pulses
from features.records.hits import Pulses
from features.sound.signal import Samples
from tests import signals

RATE_HZ = 44100
DURATION_S = 24.0


def pulses_of(samples: Samples) -> Pulses:
    meter = HitMeter(RATE_HZ, samples.shape[0])
    meter.push(samples)
    return measure_pulses(meter.finish())


def song() -> np.ndarray:
    """Return a held chord with its harmonics, noise, and drums at 120 BPM; shape ``(2, frames)``."""
    sustained = 0.1 * signals.chord_wave(DURATION_S, RATE_HZ) + signals.pink_wave(DURATION_S, RATE_HZ, -30.0)
    return np.asarray(signals.stereo(sustained) + 0.3 * signals.drums(DURATION_S, RATE_HZ))


def times(samples: np.ndarray, swing_db: float, period_s: float, shape: str = "cosine") -> Samples:
    phase = (np.arange(samples.shape[1]) / RATE_HZ / period_s) % 1.0
    curve = (1.0 - np.cos(2 * np.pi * phase)) / 2 if shape == "cosine" else 1.0 - phase
    return np.asarray(samples * 10 ** (-swing_db * curve / 20), np.float32)


@pytest.mark.parametrize(("period_s", "swing_db"), [(0.23, 4.0), (0.47, 6.0), (1.13, 3.0)])
def test_period_and_swing_of_a_planted_cosine_are_read(period_s: float, swing_db: float) -> None:
    pulses = pulses_of(times(song(), swing_db, period_s))
    assert pulses.period_s == pytest.approx(period_s, rel=0.02)
    assert pulses.swing_db == pytest.approx(swing_db, rel=0.2)
    assert pulses.alike is not None
    assert pulses.alike > 0.9
    assert pulses.steady is not None
    assert pulses.steady > 0.8


def test_a_duck_that_comes_back_in_a_straight_line_is_read_by_its_lowest_line() -> None:
    pulses = pulses_of(times(song(), 8.0, 0.61, "line"))
    assert pulses.period_s == pytest.approx(0.61, rel=0.02)
    assert pulses.swing_db == pytest.approx(8.0 * 2 / np.pi, rel=0.2)  # first line of a sawtooth: 2 / pi of its swing


def test_rhythm_alone_and_a_gain_in_time_with_it_are_no_pulse_of_their_own() -> None:
    assert pulses_of(np.asarray(song(), np.float32)).period_s is None
    assert pulses_of(times(song(), 6.0, 0.5)).period_s is None


def test_a_swing_in_one_octave_is_not_alike() -> None:
    sustained = signals.pink_wave(DURATION_S, RATE_HZ, -30.0)
    spectrum = np.fft.rfft(sustained)
    hz = np.fft.rfftfreq(len(sustained), 1 / RATE_HZ)
    band = np.fft.irfft(np.where((hz > 250.0) & (hz < 500.0), spectrum, 0.0), len(sustained))
    pulses = pulses_of(np.asarray(signals.stereo(sustained - band) + times(signals.stereo(band), 12.0, 0.43), np.float32))
    assert pulses.swing_db is None or pulses.swing_db < 1.0


def test_silence_and_short_sounds_have_reasons() -> None:
    assert pulses_of(signals.silence(20.0)).absent[0].reason == "nothing sustains above 250 Hz"
    assert "shorter" in pulses_of(signals.pink(5.0)).absent[0].reason
