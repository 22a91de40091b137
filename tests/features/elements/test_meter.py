"""What is kept of an element: powers in the ear's bands, loudness, peaks, sides; the same whatever the blocks and the rate."""

import numpy as np
import pytest

from features.elements.meter import ElementMeter, ElementTrace, trace_of
from features.elements.steps import CURVE_FRAMES
from features.loudness.level import LevelMeter
from features.sound.bands import erb_bands, third_octaves
from features.sound.signal import Samples, Signal
from tests import signals


def traced(samples: Samples, rate_hz: int = signals.RATE_HZ) -> ElementTrace:
    return trace_of(signals.signal(samples, rate_hz))


@pytest.mark.parametrize("rate_hz", [8000, 44100, 48000, 96000, 192000])
def test_bands_hold_the_whole_power_at_every_rate(rate_hz: int) -> None:
    wave = signals.white_wave(1.0, rate_hz, -20.0)
    trace = traced(signals.mono(wave), rate_hz)
    steady = slice(8, -8)
    bands = erb_bands(rate_hz)
    expected = 10**-2.0 * (bands.high_hz - bands.low_hz).sum() / (rate_hz / 2)
    assert trace.left[steady].mean(axis=0).sum() == pytest.approx(expected, rel=0.06)
    assert trace.hop_s == pytest.approx(1024 / 44100, rel=0.04)


def test_a_tone_stands_in_its_band_with_its_power() -> None:
    trace = traced(signals.sine(1000.0, 2.0, peak_dbfs=-6.0))
    mean = trace.both()[10:-10].mean(axis=0)
    assert 10 * np.log10(mean.sum()) == pytest.approx(-6.02 - 3.01, abs=0.1)
    assert int(np.argmax(mean)) == int(np.argmin(np.abs(erb_bands(signals.RATE_HZ).centre_hz - 1000.0)))
    thirds = trace.thirds[1:-1].mean(axis=0)
    assert 10 * np.log10(thirds[int(np.argmin(np.abs(third_octaves(signals.RATE_HZ).centre_hz - 1000.0)))]) == pytest.approx(-9.03, abs=0.1)


def test_a_burst_lies_in_the_frame_of_its_time() -> None:
    trace = traced(signals.clicks([1.0], 2.0))
    assert (int(np.argmax(trace.left.sum(axis=1))) + 0.5) * trace.hop_s == pytest.approx(1.0, abs=trace.hop_s)


def test_energies_agree_with_the_level_meter() -> None:
    samples = signals.pink(3.05, correlation=0.3)
    trace = traced(samples)
    meter = LevelMeter(signals.RATE_HZ, 2)
    meter.push(samples)
    level = meter.finish()
    expected = level.k_energy.sum(axis=0)[:300].reshape(-1, 10).mean(axis=1)
    assert trace.k_energy[:30] == pytest.approx(expected, rel=1e-9)
    assert len(trace.k_energy) == 31
    assert trace.peak.max() == np.abs(samples).max()
    assert trace.energy.mean(axis=1) == pytest.approx(np.mean(samples.astype(np.float64) ** 2, axis=1), rel=0.02)


@pytest.mark.parametrize("rate_hz", [11025, 44100])
def test_blocks_of_any_size_give_the_same(rate_hz: int) -> None:
    samples = signals.pink(4.0, rate_hz, correlation=0.5)
    samples[:, rate_hz : 2 * rate_hz] = 0.0
    samples[1, 3 * rate_hz :] = samples[0, 3 * rate_hz :]
    whole = ElementMeter(rate_hz, 2)
    whole.push(samples)
    pieces = ElementMeter(rate_hz, 2)
    start = 0
    for count in np.random.default_rng(3).integers(0, 9000, 1000):
        pieces.push(samples[:, start : start + count])
        start += count
    trace, other = whole.finish(), pieces.finish()
    for name in ("left", "right", "thirds", "k_energy", "energy", "peak"):
        np.testing.assert_array_equal(getattr(trace, name), getattr(other, name), err_msg=name)


def test_rates_agree() -> None:
    wide = signals.white_wave(2.0, 96000, -20.0)
    spectrum = np.fft.rfft(wide)
    spectrum[np.fft.rfftfreq(len(wide), 1 / 96000) > 15000] = 0
    high = np.fft.irfft(spectrum)
    fast, slow = traced(signals.mono(high), 96000), traced(signals.mono(high[::2]), 48000)
    below = erb_bands(48000).high_hz < 15000
    levels = [10 * np.log10(trace.both()[4:-4].mean(axis=0)[: len(below)][below]) for trace in (fast, slow)]
    assert np.abs(levels[0] - levels[1]).max() < 0.5  # frames lie elsewhere, and a band of noise is never quite the same
    assert 10 * np.log10(fast.k_energy.mean() / slow.k_energy.mean()) == pytest.approx(0.0, abs=0.1)


def test_equal_channels_are_kept_once() -> None:
    wave = signals.pink_wave(1.0)
    both, mono = traced(signals.stereo(wave)), traced(signals.mono(wave))
    assert both.left is both.right
    np.testing.assert_array_equal(both.left, mono.left)
    assert both.k_energy == pytest.approx(2 * mono.k_energy)
    assert traced(signals.pink(1.0)).left is not traced(signals.pink(1.0)).right


@pytest.mark.parametrize("frames", [0, 1, 100, 5000])
@pytest.mark.parametrize("channels", [1, 2])
def test_short_sounds(frames: int, channels: int) -> None:
    trace = traced(np.full((channels, frames), 0.5, np.float32))
    assert trace.frames == frames
    assert len(trace.peak) == -(-frames // 4800)
    assert len(trace.thirds) == -(-len(trace.left) // CURVE_FRAMES)
    assert trace.silent == (frames == 0)


def test_silence_is_silent_and_full_scale_is_no_limit() -> None:
    silent = traced(signals.silence(1.0))
    assert silent.silent
    assert not silent.left.any()
    assert traced(signals.sine(100.0, 0.5, peak_dbfs=12.0)).peak.max() == pytest.approx(10**0.6, rel=1e-4)


def test_a_trace_is_small() -> None:
    trace = trace_of(Signal(signals.white(10.0), signals.RATE_HZ))
    size = sum(getattr(trace, name).nbytes for name in ("left", "right", "thirds", "k_energy", "energy", "peak"))
    assert 40 * size * 30 < 300 << 20  # 40 stereo stems of 5 minutes
