"""Gain, mid and side, mono below, polarity, delay, peak limiter."""

import numpy as np
import pytest

from features.processors.dynamics.peak_limiter import peak_limiter
from features.processors.placement.delay import delay
from features.processors.placement.gain import gain
from features.processors.placement.mono_below import MonoBelow, mono_below
from features.processors.placement.polarity import invert
from features.processors.placement.side_gain import mid_gain, side_gain
from features.sound.signal import Signal
from tests import signals

RATE = signals.RATE_HZ


def noise() -> Signal:
    return signals.signal(signals.pink(0.5, correlation=0.3))


def test_neutral_settings_return_the_same_samples() -> None:
    song = noise()
    for done in (
        gain(song, 0.0), side_gain(song, 0.0), mid_gain(song, 0.0), mono_below(song, 0.0), invert(song, ()), delay(song, 0.0, (0, 1)),
        delay(song, 5.0, ()), peak_limiter(song, 6.0),
    ):  # fmt: skip
        assert np.array_equal(done.samples, song.samples)


def test_gain() -> None:
    assert np.allclose(gain(noise(), 6.0).samples, noise().samples * 10**0.3, rtol=1e-6, atol=0.0)


def test_side_and_mid_gain_act_on_their_own_part_alone() -> None:
    song = noise()
    left, right = song.samples.astype(float)
    for done, mid, side in ((side_gain(song, -6.0), 1.0, 10**-0.3), (mid_gain(song, -6.0), 10**-0.3, 1.0)):
        left_out, right_out = done.samples.astype(float)
        assert np.allclose(left_out + right_out, (left + right) * mid, rtol=0.0, atol=1e-6)
        assert np.allclose(left_out - right_out, (left - right) * side, rtol=0.0, atol=1e-6)


def test_mono_has_no_side() -> None:
    sound = signals.signal(signals.pink(0.1)[:1])
    assert side_gain(sound, 6.0) is sound
    assert mono_below(sound, 100.0) is sound
    assert np.allclose(mid_gain(sound, 6.0).samples, sound.samples * 10**0.3, rtol=1e-6, atol=0.0)


def test_mono_below_takes_the_low_side_and_leaves_the_mid() -> None:
    def side_db(frequency_hz: float) -> float:
        wave = signals.sine_wave(frequency_hz, 1.0, peak_dbfs=-6.0)
        done = mono_below(signals.signal(signals.stereo(wave, -wave)), 120.0).samples[:, RATE // 2 :]
        return float(20 * np.log10(np.abs(done[0] - done[1]).max() / 2) + 6.0)

    assert side_db(120.0) == pytest.approx(-3.01, abs=0.05)  # Butterworth, by definition
    assert side_db(30.0) == pytest.approx(-24.1, abs=0.3)  # 12 dB per octave
    assert side_db(1000.0) == pytest.approx(0.0, abs=0.05)
    song = noise()
    done = mono_below(song, 120.0)
    assert np.allclose(done.samples.sum(axis=0), song.samples.sum(axis=0), rtol=0.0, atol=1e-6)


def test_mono_below_in_blocks() -> None:
    samples = noise().samples
    tool = MonoBelow(RATE, 100.0)
    parts = [tool.process(samples[:, at : at + 777]) for at in range(0, samples.shape[1], 777)]
    assert np.array_equal(np.concatenate(parts, axis=1), MonoBelow(RATE, 100.0).process(samples))


def test_invert_twice_is_nothing() -> None:
    song = noise()
    once = invert(song, (1,))
    assert np.array_equal(once.samples[0], song.samples[0])
    assert np.array_equal(once.samples[1], -song.samples[1])
    assert np.array_equal(invert(once, (1,)).samples, song.samples)


@pytest.mark.parametrize("frames", [1, 37, -12])
def test_whole_samples_are_moved_bit_by_bit(frames: int) -> None:
    song = noise()
    done = delay(song, 1000 * frames / RATE, (0,)).samples
    moved, original = (done[0, frames:], song.samples[0, :-frames]) if frames > 0 else (done[0, :frames], song.samples[0, -frames:])
    assert np.array_equal(moved, original)
    assert np.array_equal(done[1], song.samples[1])


@pytest.mark.parametrize("delay_ms", [0.01, 0.13, -0.4, 2.005])
def test_fractions_of_a_sample(delay_ms: float) -> None:
    for frequency_hz in (100.0, 3000.0, 15000.0):
        tone = signals.sine_wave(frequency_hz, 0.5, peak_dbfs=-6.0)
        done = delay(signals.signal(signals.mono(tone)), delay_ms, (0,)).samples[0]
        time = np.arange(len(tone)) / RATE - delay_ms / 1000
        expected = 0.501187 * np.sin(2 * np.pi * frequency_hz * time)
        assert np.allclose(done[1000:-1000], expected[1000:-1000], rtol=0.0, atol=2e-3)


def test_delay_past_the_end_is_silence() -> None:
    assert not delay(signals.signal(signals.pink(0.01)), 500.0, (0, 1)).samples.any()
    assert not delay(signals.signal(signals.pink(0.01)), -500.0, (0, 1)).samples.any()
    assert delay(Signal(np.zeros((2, 0), np.float32), RATE), 1.0, (0,)).samples.shape == (2, 0)


def test_peak_limiter_catches_the_stray_and_leaves_the_rest() -> None:
    samples = signals.pink(2.0, rms_dbfs=-30.0)
    samples[:, RATE] = 0.9
    song = signals.signal(samples)
    done = peak_limiter(song, -12.0).samples
    assert np.abs(done).max() <= signals.amplitude(-12.0)
    assert np.array_equal(done[:, : RATE - 200], song.samples[:, : RATE - 200])
    assert np.allclose(done[:, RATE + RATE // 2 :], song.samples[:, RATE + RATE // 2 :], rtol=0.0, atol=1e-5)
