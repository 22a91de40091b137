"""Long-term spectrum: slopes by construction, gates, halves, places, and sounds that have none."""

import numpy as np
import pytest
from scipy import signal as scipy_signal

from features.hits.separation import PartCurves
from features.records.spectrum import Spectrum
from features.sound.signal import Samples, Signal
from features.sound.spectrogram import Spectrogram, SpectrogramMeter
from features.tone.spectrum import measure_spectrum
from tests import signals


def pictured(samples: Samples, rate_hz: int = signals.RATE_HZ) -> Spectrogram:
    meter = SpectrogramMeter(rate_hz, samples.shape[0])
    for block in Signal(samples, rate_hz).blocks():
        meter.push(block)
    return meter.finish()


def measured(samples: Samples, rate_hz: int = signals.RATE_HZ) -> Spectrum:
    return measure_spectrum(pictured(samples, rate_hz))


# power per Hz: white 0, pink -3.0103, brown -6.0206 dB per octave (by definition)
@pytest.mark.parametrize("slope", [0.0, -3.0103, -6.0206])
@pytest.mark.parametrize("rate_hz", signals.RATES_HZ)
def test_tilt_of_noise(slope: float, rate_hz: int) -> None:
    wave = signals.pink_wave(30.0, rate_hz, db_per_octave=slope)
    spectrum = measured(signals.stereo(wave), rate_hz)
    assert spectrum.tilt_db_per_octave == pytest.approx(slope, abs=0.08)
    assert all(value == pytest.approx(slope, abs=0.35) for value in spectrum.tilt.values[3:-3] if value is not None)


def test_curve_of_pink_noise_is_a_straight_line() -> None:
    spectrum = measured(signals.pink(40.0))
    octave = np.log2(np.array(spectrum.third_octave_hz) / 1000)
    np.testing.assert_allclose(np.array(spectrum.third_octave_db)[5:30], -3.0103 * octave[5:30], atol=0.5)
    middle = np.array(spectrum.third_octave_db)[10:25]
    assert np.mean(middle) == pytest.approx(0, abs=1e-6)


def test_gain_and_channel_swap_change_only_the_level() -> None:
    sound = signals.pink(20.0, correlation=0.4)
    sound[1] *= 0.5
    spectrum, other = measured(sound), measured(sound[::-1] * np.float32(0.25))
    np.testing.assert_allclose(spectrum.third_octave_db, other.third_octave_db, atol=0.01)
    assert spectrum.level_db is not None
    assert other.level_db == pytest.approx(spectrum.level_db - 12.04, abs=0.01)


def test_mid_and_side_share_the_reference() -> None:
    spectrum = measured(signals.pink(30.0, correlation=0.6))
    assert spectrum.side_db is not None
    gap = np.array(spectrum.side_db)[10:30] - np.array(spectrum.mid_db)[10:30]
    np.testing.assert_allclose(gap, 10 * np.log10(0.2 / 0.8), atol=0.5)
    total = 10 ** (np.array(spectrum.mid_db) / 10) + 10 ** (np.array(spectrum.side_db) / 10)
    np.testing.assert_allclose(10 * np.log10(total), spectrum.third_octave_db, atol=0.01)


def test_quiet_passages_do_not_count() -> None:
    loud = signals.pink(20.0)
    quiet = signals.white(20.0, rms_dbfs=-40.0)
    alone, both = measured(loud), measured(np.concatenate([quiet, loud], axis=1))
    np.testing.assert_allclose(both.third_octave_db[5:30], alone.third_octave_db[5:30], atol=0.15)


def test_halves_show_what_each_half_has() -> None:
    dense, quiet = signals.white(20.0, rms_dbfs=-14.0), signals.pink(20.0, rms_dbfs=-14.0)
    spectrum = measured(np.concatenate([quiet, dense], axis=1))
    assert spectrum.dense_db is not None
    assert spectrum.quiet_db is not None
    assert spectrum.dense_db[28] - spectrum.dense_db[14] == pytest.approx(0, abs=0.6)
    assert spectrum.quiet_db[28] - spectrum.quiet_db[14] == pytest.approx(-14, abs=1.2)  # 4.65 octaves of pink


def test_a_band_is_loudest_where_it_was_lifted() -> None:
    sound = signals.pink(40.0)
    burst = scipy_signal.sosfilt(scipy_signal.butter(2, [2700, 3700], "band", fs=signals.RATE_HZ, output="sos"), signals.white_wave(5.0))
    start = 22 * signals.RATE_HZ
    sound[:, start : start + burst.shape[-1]] += np.float32(2) * burst.astype(np.float32)
    spectrum = measured(sound)
    span = spectrum.band_loudest[22]
    assert span.start_s == pytest.approx(22.0, abs=0.5)
    assert span.end_s - span.start_s == pytest.approx(5.0)


def test_parts_are_curves_of_their_own() -> None:
    picture = pictured(signals.pink(12.0))
    flat = np.ones(31)
    spectrum = measure_spectrum(picture, PartCurves(picture.band_hz, flat, np.zeros(31)))
    assert spectrum.percussive_db is not None
    assert spectrum.percussive_db[20] - spectrum.percussive_db[10] == pytest.approx(-10.0, abs=0.01)  # equal powers in bands: pink
    assert spectrum.sustained_db is None
    assert {absence.field for absence in spectrum.absent} == {"sustained_db"}


@pytest.mark.parametrize("frames", [0, 1, 100])
def test_silence_and_next_to_nothing(frames: int) -> None:
    spectrum = measured(np.zeros((2, frames), np.float32))
    assert spectrum.third_octave_db == ()
    assert spectrum.level_db is None
    assert {"third_octave_db", "level_db", "tilt_db_per_octave"} <= {absence.field for absence in spectrum.absent}


def test_one_sample_and_above_full_scale_and_low_rate() -> None:
    spectrum = measured(np.ones((1, 1), np.float32))
    assert spectrum.side_db is None
    assert all(np.isfinite(spectrum.third_octave_db))
    loud = measured(signals.pink(12.0) * np.float32(40))
    assert all(np.isfinite(loud.third_octave_db))
    low = measured(signals.white(12.0, 16000), 16000)
    assert low.tilt_db_per_octave is None
    assert len(low.third_octave_db) == len(low.third_octave_hz) == len(low.band_loudest)
