"""The envelope: a value for each millisecond, whatever the blocks, and the low end as a wave."""

import numpy as np
import pytest
from scipy import signal as filters

from features.elements.dynamics.envelope import LOW_DELAY_S, EnvelopeMeter, EnvelopeTrace
from features.sound.signal import Samples
from tests import signals


def measured(samples: Samples, rate_hz: int = signals.RATE_HZ, sizes: tuple[int, ...] = (1 << 17,)) -> EnvelopeTrace:
    meter = EnvelopeMeter(rate_hz, samples.shape[0])
    at = turn = 0
    while at < samples.shape[1]:
        size = sizes[turn % len(sizes)]
        meter.push(samples[:, at : at + size])
        at, turn = at + size, turn + 1
    return meter.finish()


def test_peak_and_level_are_those_of_each_millisecond() -> None:
    samples = signals.white(1.0, correlation=0.2)
    trace = measured(samples)
    steps = samples.reshape(2, 1000, 48).astype(np.float64)
    assert np.array_equal(trace.peak, np.abs(samples).reshape(2, 1000, 48).max(axis=(0, 2)))
    assert np.allclose(trace.mean_square, (steps**2).mean(axis=2).max(axis=0), rtol=1e-5)


def test_mono_dual_mono_and_one_channel_alone_read_alike() -> None:
    wave = signals.pink_wave(0.5)
    alone = measured(signals.stereo(wave, np.zeros_like(wave)))
    for trace in (measured(signals.mono(wave)), measured(signals.stereo(wave))):
        assert np.array_equal(trace.mean_square, alone.mean_square)
        assert np.array_equal(trace.peak, alone.peak)


@pytest.mark.parametrize("rate_hz", [8000, 11025, 44100, 48000, 96000, 192000])
def test_low_wave_is_what_a_butterworth_filter_passes(rate_hz: int) -> None:
    """Independent truth: scipy's own filter at the full rate, read at the end of each millisecond."""
    wave = signals.pink_wave(1.0, rate_hz, low_hz=30.0, high_hz=min(8000.0, 0.4 * rate_hz))
    trace = measured(signals.mono(wave), rate_hz)
    passed = filters.sosfilt(filters.butter(4, 200.0, fs=rate_hz, output="sos"), wave)
    time_s = (np.arange(1, len(trace.low) + 1) / 1000) - 0.125e-3  # middle of the last quarter
    truth = np.interp(time_s, np.arange(len(wave)) / rate_hz, passed)
    error = trace.low[100:] - truth[100:]
    allowed = 0.07 if rate_hz < 16000 else 0.03  # few frames to a quarter of a millisecond
    assert np.sqrt(np.mean(error**2)) < allowed * np.sqrt(np.mean(truth**2))


def test_low_wave_is_late_by_the_stated_delay() -> None:
    wave = signals.sine_wave(40.0, 2.0)
    low = measured(signals.mono(wave)).low[1000:].astype(np.float64)
    time_s = np.arange(1001, 2001) / 1000
    late = np.angle(np.sum(low * np.exp(-2j * np.pi * 40.0 * (time_s - LOW_DELAY_S)))) + np.pi / 2
    assert abs(late / (2 * np.pi * 40.0)) < 0.4e-3


@pytest.mark.parametrize("rate_hz", [11025, 44100, 48000])
def test_blocks_do_not_matter(rate_hz: int) -> None:
    samples = signals.white(1.0, rate_hz)[:, :-13]
    trace, many = measured(samples, rate_hz), measured(samples, rate_hz, (1, 5, 333, 7001))
    for name in ("peak", "mean_square", "low"):
        assert np.array_equal(getattr(trace, name), getattr(many, name))
    assert trace.frames == many.frames == samples.shape[1]


def test_gain_and_channel_swap() -> None:
    samples = signals.white(0.5, correlation=0.5)
    trace, swapped, half = measured(samples), measured(samples[::-1]), measured(samples * np.float32(0.5))
    assert np.array_equal(trace.peak, swapped.peak)
    assert np.array_equal(trace.mean_square, swapped.mean_square)
    assert np.array_equal(trace.peak, 2 * half.peak)


@pytest.mark.parametrize("frames", [0, 1, 47, 48, 49])
def test_very_short(frames: int) -> None:
    samples = np.full((1, frames), 1.5, np.float32)  # above full scale is kept
    trace = measured(samples)
    assert len(trace.peak) == len(trace.mean_square) == len(trace.low) == -(-frames // 48)
    assert trace.peak.max(initial=1.5) == 1.5
