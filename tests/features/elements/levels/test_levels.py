"""How loud an element is, where it plays, where it stands: values by construction, and pyloudnorm as a second opinion."""

from dataclasses import replace

import numpy as np
import pyloudnorm
import pytest

from features.elements.levels.levels import measure_level, playing, whole_steps
from features.elements.meter import trace_of
from features.records.base import Span
from features.records.elements import ElementLevel
from features.sound.signal import Samples
from tests import signals

RATE_HZ = signals.RATE_HZ


def level(element: Samples, mix: Samples | None = None, rate_hz: int = RATE_HZ) -> ElementLevel:
    return measure_level(trace_of(signals.signal(element, rate_hz)), trace_of(signals.signal(element if mix is None else mix, rate_hz)))


def test_loudness_in_the_mix() -> None:
    element, others = signals.pink(10.0, rms_dbfs=-30.0), signals.pink(10.0, rms_dbfs=-20.0, seed=5)
    measured = level(element, element + others)
    meter = pyloudnorm.Meter(RATE_HZ)
    assert measured.integrated_lufs == pytest.approx(meter.integrated_loudness(element.T.astype(np.float64)), abs=0.05)
    mixed = meter.integrated_loudness((element + others).T.astype(np.float64))
    assert measured.integrated_lufs is not None
    assert measured.in_mix_lu == pytest.approx(measured.integrated_lufs - mixed, abs=0.05)
    assert measured.in_mix_lu == pytest.approx(-10.4, abs=0.2)  # -10 dB against the others: 10 log10(1 / 11)


def test_while_playing_looks_only_at_the_stretches_where_it_plays() -> None:
    """It stands 6 dB below the mix where it plays, and the mix is 20 dB louder elsewhere."""
    element, mix = signals.silence(20.0), signals.pink(20.0, rms_dbfs=-10.0, seed=3)
    element[:, 5 * RATE_HZ : 10 * RATE_HZ] = signals.pink(5.0, rms_dbfs=-36.0)
    mix[:, 5 * RATE_HZ : 10 * RATE_HZ + 4800] *= 0.1  # the weighting's filter rings on for a step
    measured = level(element, mix)
    assert measured.while_playing_lu == pytest.approx(-6.0, abs=0.3)
    assert measured.in_mix_lu is not None
    assert measured.in_mix_lu < -20
    assert measured.plays in {(Span(5.0, 10.0),), (Span(5.0, 10.1),)}
    assert measured.plays_share == pytest.approx(0.25, abs=0.01)


def test_mono_elements_sound_in_both_channels_of_the_mix() -> None:
    wave = signals.pink_wave(5.0)
    mono, both = signals.mono(wave), signals.stereo(wave)
    assert level(mono, both).in_mix_lu == pytest.approx(0.0, abs=1e-6)
    assert level(mono, both).integrated_lufs == pytest.approx(level(both, both).integrated_lufs)
    assert level(mono, mono).in_mix_lu == pytest.approx(0.0, abs=1e-9)


def test_hits_are_joined_over_short_rests_and_not_over_long_ones() -> None:
    snare = signals.placed(signals.snare_wave(), [1.0, 2.0, 3.0, 8.0, 9.0], 12.0)
    measured = level(signals.mono(snare))
    assert len(measured.plays) == 2
    assert measured.plays[0].start_s == pytest.approx(1.0, abs=0.11)
    assert measured.plays[1].start_s == pytest.approx(8.0, abs=0.11)


def test_a_faint_noise_is_not_playing() -> None:
    element = signals.white(10.0, rms_dbfs=-90.0)
    element[:, 2 * RATE_HZ : 4 * RATE_HZ] += signals.sine(440.0, 2.0, peak_dbfs=-12.0)
    assert level(element).plays == (Span(2.0, 4.0),)
    assert playing(np.zeros(5)).sum() == 0


def test_crest_and_peak_of_a_sine() -> None:
    measured = level(signals.sine(997.0, 4.0, peak_dbfs=-6.0))
    assert measured.sample_peak_dbfs == pytest.approx(-6.0, abs=0.01)
    assert measured.crest_db == pytest.approx(3.01, abs=0.02)
    one_side = signals.stereo(signals.sine_wave(997.0, 4.0), np.zeros(4 * RATE_HZ))
    assert level(one_side).crest_db == pytest.approx(3.01, abs=0.02)


def test_jumps_are_the_spread_of_the_400_ms_loudness() -> None:
    steady = level(signals.tone_steps([(20.0, -20.0)])).jumps_db
    jumping = level(signals.tone_steps([(2.0, -12.0), (2.0, -20.0)] * 5)).jumps_db
    assert steady == pytest.approx(0.0, abs=0.1)
    assert jumping == pytest.approx(8.0, abs=0.2)


def test_rests_do_not_count_as_jumps() -> None:
    jumps = level(signals.tone_steps([(2.0, -12.0), (4.0, None)] * 4)).jumps_db
    assert jumps is not None
    assert jumps < 9.0  # only the windows that straddle an end


@pytest.mark.parametrize(("right_db", "pan_db"), [(0.0, 0.0), (-6.0, -6.0), (6.0, 6.0)])
def test_pan(right_db: float, pan_db: float) -> None:
    wave = signals.pink_wave(2.0)
    measured = level(signals.stereo(wave, wave * signals.amplitude(right_db)))
    assert measured.pan_db == pytest.approx(pan_db, abs=0.01)


def test_pan_of_one_side_and_of_mono() -> None:
    wave = signals.pink_wave(1.0)
    assert level(signals.stereo(wave, 0 * wave)).pan_db == -60.0
    assert level(signals.stereo(0 * wave, wave)).pan_db == 60.0
    assert level(signals.mono(wave)).pan_db is None


def test_loudest_and_curve() -> None:
    element = signals.tone_steps([(8.0, -30.0), (5.0, -10.0), (8.0, -30.0)])
    measured = level(element)
    assert measured.loudest is not None
    assert measured.loudest.start_s == pytest.approx(8.0, abs=0.11)
    assert measured.loudest.end_s == pytest.approx(13.0, abs=0.11)
    at = int(np.argmax(measured.third_octave_db))
    assert measured.third_octave_hz[at] == pytest.approx(1000.0)
    mean = 10 * np.log10((5 * 10**-1.3 + 16 * 10**-3.3) / 21)
    assert measured.third_octave_db[at] == pytest.approx(mean, abs=0.15)


def test_the_curve_is_of_where_it_plays() -> None:
    element = signals.silence(20.0)
    element[:, : 5 * RATE_HZ] = signals.sine(1000.0, 5.0, peak_dbfs=-10.0)
    assert max(level(element).third_octave_db) == pytest.approx(-13.0, abs=0.4)


def test_gain_moves_levels_and_nothing_else() -> None:
    element, mix = signals.drums(6.0), signals.drums(6.0) + signals.pink(6.0, rms_dbfs=-26.0)
    plain, quieter = level(element, mix), level(0.1 * element, np.asarray(0.1 * mix, np.float32))
    assert plain.integrated_lufs is not None
    assert quieter.integrated_lufs == pytest.approx(plain.integrated_lufs - 20.0, abs=0.01)
    assert quieter.in_mix_lu == pytest.approx(plain.in_mix_lu, abs=0.01)
    assert quieter.jumps_db == pytest.approx(plain.jumps_db, abs=0.01)
    assert quieter.crest_db == pytest.approx(plain.crest_db, abs=0.01)
    assert replace(plain).plays == quieter.plays


@pytest.mark.parametrize("frames", [0, 1, 3000])
def test_short_and_silent(frames: int) -> None:
    silent = level(np.zeros((2, frames), np.float32))
    assert silent.integrated_lufs is None
    assert silent.plays == ()
    assert silent.plays_share == 0.0
    assert silent.loudest is None
    short = level(np.full((1, frames), 0.5, np.float32))
    assert short.integrated_lufs is None
    assert all(np.isfinite(short.third_octave_db))


def test_whole_steps() -> None:
    for frames, steps in ((4799, 0), (4800, 1), (4801, 1), (48000, 10)):
        assert whole_steps(trace_of(signals.signal(np.zeros((1, frames), np.float32)))) == steps


def test_correlation_of_its_channels_by_its_formula() -> None:
    wave = signals.pink_wave(5.0)
    assert level(signals.stereo(wave, -0.5 * wave)).correlation == pytest.approx(-0.8, abs=1e-6)  # 2 LR / (LL + RR)
    assert level(signals.stereo(wave, wave)).correlation == pytest.approx(1.0)
    assert level(signals.mono(wave)).correlation is None
    assert level(signals.stereo(wave, 0.0 * wave)).correlation is None


def test_cut_tops_are_counted_and_placed() -> None:
    wave = 0.5 * signals.sine_wave(220.0, 4.0)
    wave[2 * RATE_HZ : 3 * RATE_HZ] = np.clip(2.0 * wave[2 * RATE_HZ : 3 * RATE_HZ], -0.5, 0.5)
    reading = level(signals.stereo(wave))
    assert reading.clipped_runs == pytest.approx(2 * 2 * 220, rel=0.02)  # both tops of every cycle of that second, in both channels
    assert reading.clipped[0].start_s == pytest.approx(2.0, abs=0.15)
    assert level(signals.stereo(0.5 * signals.sine_wave(220.0, 4.0))).clipped_runs == 0
