"""The shared spectrogram: energy-true, the same in any blocks, against an independent library."""

import numpy as np
import pytest
from scipy import signal as scipy_signal

from features.sound.bands import third_octaves
from features.sound.signal import Samples, Signal
from features.sound.spectrogram import Spectrogram, SpectrogramMeter
from tests import signals


def measured(samples: Samples, rate_hz: int = signals.RATE_HZ, size: int = 1 << 17) -> Spectrogram:
    meter = SpectrogramMeter(rate_hz, samples.shape[0])
    for block in Signal(samples, rate_hz).blocks(size):
        meter.push(block)
    return meter.finish()


@pytest.mark.parametrize("rate_hz", signals.RATES_HZ)
def test_a_sine_has_its_power_in_its_band(rate_hz: int) -> None:
    picture = measured(signals.sine(1000.0, 4.0, rate_hz, peak_dbfs=-6.0), rate_hz)
    middle = picture.left[10:30].mean(axis=0)
    band = int(np.argmin(np.abs(picture.band_hz - 1000)))
    assert 10 * np.log10(middle[band]) == pytest.approx(-6.0 - 3.0103, abs=0.01)
    assert middle[band] / middle.sum() > 0.9999


def test_noise_keeps_its_power_and_agrees_with_welch() -> None:
    sound = signals.white(20.0, rms_dbfs=-20.0, correlation=0.3)
    picture = measured(sound)
    frequency, density = scipy_signal.welch(sound[0], signals.RATE_HZ, nperseg=8192)
    bands = third_octaves(signals.RATE_HZ)
    for band in range(12, 31):
        inside = (frequency > bands.low_hz[band]) & (frequency < bands.high_hz[band])
        expected = density[inside].mean() * bands.width_hz[band]
        assert 10 * np.log10(picture.left[:, band].mean() / expected) == pytest.approx(0, abs=0.4)
    assert picture.fine_left.sum() == pytest.approx(0.01, rel=0.01)


def test_mid_and_side_of_correlated_noise() -> None:
    picture = measured(signals.white(30.0, correlation=0.5))
    ratio = picture.side()[:, 20:].sum() / picture.mid()[:, 20:].sum()
    assert 10 * np.log10(ratio) == pytest.approx(10 * np.log10(0.25 / 0.75), abs=0.15)
    np.testing.assert_allclose(picture.mid() + picture.side(), picture.both(), rtol=1e-4, atol=1e-12)


def test_the_phase_between_channels_shows_in_the_cross_spectrum() -> None:
    delayed = signals.white_wave(5.0)
    picture = measured(signals.stereo(delayed, np.roll(delayed, 24)))  # right is late by 0.5 ms
    bins = slice(50, 300)
    slope = np.polyfit(picture.fine_hz[bins], np.unwrap(np.angle(picture.fine_cross[bins])), 1)[0]
    assert slope / (2 * np.pi) == pytest.approx(0.0005, rel=0.01)


@pytest.mark.parametrize("size", [997, 4096, 1 << 19])
def test_blocks_change_nothing(size: int) -> None:
    sound = signals.pink(13.0, 44100, correlation=0.5)
    spectrogram, other = measured(sound, 44100), measured(sound, 44100, size)
    for name in ("left", "right", "cross", "detail_db", "fine_left", "fine_right", "fine_cross"):
        assert np.array_equal(getattr(spectrogram, name), getattr(other, name)), name


@pytest.mark.parametrize("frames", [0, 1, 4499, 4500, 64 * 4500, 64 * 4500 + 2300, 65 * 4500])
def test_every_length_has_its_frames(frames: int) -> None:
    picture = measured(signals.white(10.0)[:, :frames])
    assert picture.frames == -(-frames // 4500)
    assert picture.left.shape == picture.cross.shape == (picture.frames, 31)


def test_a_click_lies_in_the_frame_around_it() -> None:
    picture = measured(signals.clicks([3.0], 6.0))
    loudest = int(np.argmax(picture.left.sum(axis=1)))
    assert abs(picture.times_s()[loudest] - 3.0) <= picture.hop_s / 2 + 1e-9


def test_mono_is_left_right_and_cross() -> None:
    picture = measured(signals.white(2.0)[:1])
    assert np.array_equal(picture.left, picture.right)
    np.testing.assert_allclose(picture.cross, picture.left, rtol=1e-5)
    assert picture.side().max() < 1e-6 * picture.mid().max()


@pytest.mark.parametrize("rate_hz", [8000, 11025, 192000])
def test_any_rate(rate_hz: int) -> None:
    picture = measured(signals.white(2.0, rate_hz), rate_hz)
    assert picture.hop_s == pytest.approx(0.093, rel=0.03)
    assert np.all(np.isfinite(picture.left))
