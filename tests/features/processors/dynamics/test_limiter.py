"""The reference limiter: nothing over the ceiling, no delay, no change where there is nothing to do."""

import numpy as np
import pytest
from scipy.signal import resample_poly

from features.processors.dynamics.limiter import FAST, GENTLE, Setting, gain_curve, limit, true_peak_envelope
from features.sound.interpolation import interpolation_taps
from features.sound.signal import Samples, Signal
from tests import signals

SETTINGS = pytest.mark.parametrize("setting", [GENTLE, FAST], ids=["gentle", "fast"])


def true_peak_dbtp(samples: Samples) -> float:
    """Eight-fold over-sampling by an independent library."""
    return float(20 * np.log10(np.abs(resample_poly(samples.astype(np.float64), 8, 1, axis=1)).max()))


def busy(rate_hz: int = signals.RATE_HZ) -> Signal:
    return signals.signal(signals.drums(3.0, rate_hz) + signals.pink(3.0, rate_hz, -22.0), rate_hz)


@SETTINGS
@pytest.mark.parametrize("rate_hz", [8000, 44100, 48000, 96000])
def test_output_never_passes_the_ceiling_in_true_peak(setting: Setting, rate_hz: int) -> None:
    limited = limit(busy(rate_hz), 12.0, -1.0, setting)
    assert limited.gain.min() < 0.5
    assert true_peak_dbtp(limited.signal.samples) <= -1.0 + 0.02


@SETTINGS
def test_full_band_noise_far_above_full_scale_is_held(setting: Setting) -> None:
    limited = limit(signals.signal(signals.white(1.0, rms_dbfs=6.0)), 6.0, -1.0, setting)
    assert np.abs(limited.signal.samples).max() <= signals.amplitude(-1.0)
    assert true_peak_dbtp(limited.signal.samples) <= -1.0 + 0.1  # noise up to half the rate: meters differ by this much


@SETTINGS
def test_nothing_above_the_ceiling_is_left_alone_bit_by_bit(setting: Setting) -> None:
    song = busy()
    quiet = Signal(song.samples * np.float32(0.25 / np.abs(song.samples).max()), song.rate_hz)
    limited = limit(quiet, 0.0, -1.0, setting)
    assert np.array_equal(limited.signal.samples, quiet.samples)
    assert (limited.gain == 1.0).all()


@SETTINGS
def test_gain_is_symmetric_in_time_to_the_look_ahead_not_late(setting: Setting) -> None:
    click = signals.signal(signals.clicks([0.5], 1.0, height=1.0))
    gain = limit(click, 0.0, -6.0, setting).gain
    at = round(0.5 * signals.RATE_HZ)
    window = round(setting.look_ahead_s * signals.RATE_HZ)
    assert gain[at] <= signals.amplitude(-6.0)
    assert gain[at - window - 4] == 1.0  # four frames: the wave between the samples begins before the click
    assert gain[at - window // 2] < 1.0


def test_release_follows_its_time_constant() -> None:
    envelope = np.full(48000, 0.5, np.float32)
    envelope[:4800] = 2.0
    gain = gain_curve(envelope, 1.0, 48000, GENTLE).astype(float)
    start = 4800 + round(GENTLE.look_ahead_s * 48000)
    first, later = (1 - gain[start + round(after_s * 48000)] for after_s in (0.02, 0.02 + GENTLE.release_s))
    assert later / first == pytest.approx(np.exp(-1.0), rel=0.01)  # exponential by definition


def test_gain_holds_at_exactly_the_ceiling_for_a_steady_tone() -> None:
    gain = gain_curve(np.full(4800, 4.0, np.float32), 1.0, 48000, GENTLE)
    assert gain == pytest.approx(0.25, abs=1e-7)


def test_gain_never_exceeds_what_each_frame_needs() -> None:
    envelope = np.abs(np.random.default_rng(3).standard_normal(20000)).astype(np.float32)
    for setting in (GENTLE, FAST):
        gain = gain_curve(envelope, 0.7, 48000, setting)
        assert (gain * envelope <= 0.7 * (1 + 1e-6)).all()


def test_both_channels_get_one_gain() -> None:
    loud, soft = signals.sine_wave(200.0, 0.5), signals.sine_wave(900.0, 0.5, peak_dbfs=-20.0)
    limited = limit(signals.signal(signals.stereo(loud, soft)), 6.0, -1.0)
    assert np.allclose(limited.signal.samples[1], soft * signals.amplitude(6.0) * limited.gain, rtol=0.0, atol=1e-6)
    swapped = limit(signals.signal(signals.stereo(soft, loud)), 6.0, -1.0)
    assert np.array_equal(swapped.signal.samples[::-1], limited.signal.samples)


def test_envelope_sees_the_peak_between_samples() -> None:
    wave = signals.fade(signals.sine_wave(12000.0, 0.2, phase_degrees=45.0), signals.RATE_HZ, 0.05)
    inner = slice(4000, 5000)
    envelope = true_peak_envelope(signals.mono(wave))[inner]
    assert np.abs(wave[inner]).max() == pytest.approx(np.sqrt(0.5), abs=1e-6)
    assert 20 * np.log10(envelope.max()) == pytest.approx(0.0, abs=0.02)  # fs/4 at 45 degrees: +3.0103 dB exactly (check value)


def test_envelope_skips_only_what_cannot_reach_the_floor() -> None:
    samples = busy().samples
    whole, quick = true_peak_envelope(samples), true_peak_envelope(samples, floor=0.6)
    assert (whole > 0.6).any()
    assert np.array_equal(whole[whole >= 0.6], quick[whole >= 0.6])


def test_interpolation_is_flat_up_to_the_last_octave() -> None:
    taps = interpolation_taps(4, 24, 8.0).astype(float)
    for phase, row in enumerate(taps):
        for share in (0.05, 0.2, 0.4):
            wave = np.exp(2j * np.pi * share * (np.arange(24) - 11 - (phase + 1) / 4))
            assert abs(row @ wave - 1.0) < 0.02


@pytest.mark.parametrize("frames", [0, 1, 7])
@pytest.mark.parametrize("channels", [1, 2])
def test_very_short_sounds(frames: int, channels: int) -> None:
    limited = limit(Signal(np.full((channels, frames), 3.0, np.float32), 48000), 0.0, -1.0)
    assert limited.signal.samples.shape == (channels, frames)
    assert np.abs(limited.signal.samples).max(initial=0.0) <= signals.amplitude(-1.0)


def test_silence_stays_silent() -> None:
    limited = limit(signals.signal(signals.silence(0.1)), 20.0, -1.0)
    assert not limited.signal.samples.any()
    assert (limited.gain == 1.0).all()
