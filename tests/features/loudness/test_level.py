"""Loudness and peaks over time: truth by construction, invariants, and two independent meters."""

import re
import shutil
import subprocess
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from scipy import signal as scipy_signal

from features.loudness.gating import gated_loudness, integrated_from_steps, loudness_range, sliding_means
from features.loudness.level import LevelMeter, LevelTrace, channel_loudness, measure_level, mono_fold_loudness, stretch_loudness
from features.records.base import Span
from features.records.level import Level
from features.sound.k_weighting import k_weighting, step_edges
from features.sound.signal import Samples
from tests import records, signals

ARRAYS = ("k_energy", "k_cross", "energy", "cross", "sample_peak", "true_peak")


def traced(samples: Samples, rate_hz: int = signals.RATE_HZ, block: int = 1 << 16) -> LevelTrace:
    meter = LevelMeter(rate_hz, samples.shape[0])
    for start in range(0, samples.shape[1], block):
        meter.push(samples[:, start : start + block])
    return meter.finish()


def level(samples: Samples, rate_hz: int = signals.RATE_HZ) -> Level:
    return measure_level(traced(samples, rate_hz))


def reasons(record: Level) -> dict[str, str]:
    return {absence.field: absence.reason for absence in record.absent}


# --- the filter -------------------------------------------------------------------------------------------------------


def test_coefficients_at_48_khz_are_the_standards() -> None:
    """ITU-R BS.1770-5, Annex 1, tables 1 and 2."""
    shelf = [1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585]
    high_pass = [1.0, -2.0, 1.0, -1.99004745483398, 0.99007225036621]
    np.testing.assert_allclose(k_weighting(48000), [shelf, high_pass], rtol=0, atol=1e-12)


def test_coefficients_at_44_1_khz() -> None:
    """Computed from the analogue prototype behind the tables (the standard gives 48 kHz only)."""
    shelf = [1.5308412300503478, -2.6509799951547297, 1.169079079921587, -1.6636551132560204, 0.7125954280732254]
    high_pass = [1.0, -2.0, 1.0, -1.989169673629796, 0.9891990357870393]
    np.testing.assert_allclose(k_weighting(44100), [shelf, high_pass], rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("frequency_hz", "gain_db"), [(20, -13.275), (63, -2.664), (100, -1.133), (997, 0.691), (2000, 3.071), (10000, 4.042)]
)
def test_gain_of_the_weighting_at_48_khz(frequency_hz: float, gain_db: float) -> None:
    """Computed from the standard's coefficients."""
    response = 1.0
    for b0, b1, b2, a1, a2 in k_weighting(48000):
        _, spectrum = scipy_signal.freqz([b0, b1, b2], [1.0, a1, a2], worN=[frequency_hz], fs=48000)
        response *= abs(spectrum[0])
    assert 20 * np.log10(response) == pytest.approx(gain_db, abs=0.001)


@pytest.mark.parametrize("rate_hz", [8000, 11025, 22050, 44100, 88200, 192000])
def test_energies_are_those_of_scipys_filter(rate_hz: int) -> None:
    samples = signals.white(1.234, rate_hz, correlation=0.3)
    shelf, high_pass = k_weighting(rate_hz)
    weighted = samples.astype(np.float64)
    for stage in (shelf, high_pass):
        weighted = scipy_signal.lfilter(stage[:3], np.concatenate([[1.0], stage[3:]]), weighted)
    trace = traced(samples, rate_hz)
    edges = np.minimum(step_edges(rate_hz, 0, trace.steps), samples.shape[1])
    spans = list(pairwise(edges))
    for rows, k_energy, k_cross in ((weighted, trace.k_energy, trace.k_cross), (samples.astype(np.float64), trace.energy, trace.cross)):
        wanted = np.array([np.mean(rows[:, a:b] ** 2, axis=1) for a, b in spans]).T
        np.testing.assert_allclose(k_energy, wanted, rtol=1e-9, atol=1e-15)
        np.testing.assert_allclose(k_cross, [np.mean(rows[0, a:b] * rows[1, a:b]) for a, b in spans], rtol=1e-6, atol=1e-12)
    np.testing.assert_array_equal(trace.sample_peak, np.array([np.abs(samples[:, a:b]).max(axis=1) for a, b in spans]).T)


# --- loudness by construction -----------------------------------------------------------------------------------------


def test_sine_in_one_channel_reads_3_01_below_full_scale() -> None:
    """BS.1770-5, Annex 1: 997 Hz at 0 dBFS in one channel reads -3.01 LKFS; exactly -3.0103 with these coefficients."""
    samples = signals.sine(997, 10)
    samples[1] = 0
    assert level(samples).integrated_lufs == pytest.approx(-3.0103, abs=0.002)


@pytest.mark.parametrize("rate_hz", signals.RATES_HZ)
def test_sine_reads_alike_at_every_rate(rate_hz: int) -> None:
    """To 0.02 LU: the bilinear transform bends the shelf a little differently at each rate."""
    assert level(signals.sine(997, 5, rate_hz, -20.0), rate_hz).integrated_lufs == pytest.approx(-20.0, abs=0.02)


def test_pink_noise() -> None:
    """Pink noise of -20 dBFS RMS per channel: -16.256 LUFS whatever the correlation (computed from the weighting)."""
    for correlation in (-0.5, 0.0, 1.0):
        assert level(signals.pink(30, correlation=correlation)).integrated_lufs == pytest.approx(-16.256, abs=0.05)


def test_mono_file_reads_3_01_below_the_same_in_both_channels() -> None:
    wave = signals.pink_wave(5)
    both, mono = level(signals.stereo(wave)), level(signals.mono(wave))
    assert both.integrated_lufs is not None
    assert mono.integrated_lufs == pytest.approx(both.integrated_lufs - 3.0103, abs=1e-4)


def test_quiet_parts_are_gated() -> None:
    """Tones at -20 and -40: without the gate the mean would read 3 dB less."""
    assert level(signals.tone_steps([(10, -20.0), (10, -40.0)])).integrated_lufs == pytest.approx(-20.0, abs=0.1)


def test_gates_on_block_energies() -> None:
    lufs = np.array([-20.0, -20.0, -29.0, -40.0, -80.0])
    energy = 10 ** ((lufs + 0.691) / 10)
    # Absolute gate leaves four, their mean is -22.8, so the relative gate lies at -32.8 and leaves three.
    assert gated_loudness(energy) == pytest.approx(-0.691 + 10 * np.log10(energy[:3].mean()))


def test_an_incomplete_last_block_is_not_used() -> None:
    steps = np.concatenate([np.full(40, 1.0), np.full(9, 100.0)])
    assert integrated_from_steps(steps) == pytest.approx(-0.691)


def test_sliding_means_agree_with_plain_means() -> None:
    values = np.random.default_rng(3).uniform(size=97)
    for width, hop in ((40, 10), (40, 1), (300, 10), (30, 7)):
        plain = [values[a : a + width].mean() for a in range(0, len(values) - width + 1, hop)]
        np.testing.assert_allclose(sliding_means(values, width, hop), plain, rtol=1e-12)


def test_quiet_windows_keep_their_precision_beside_loud_ones() -> None:
    values = np.concatenate([np.full(1000, 100.0), np.full(1000, 1e-12)])
    assert sliding_means(values, 40, 10)[-1] == pytest.approx(1e-12, rel=1e-9)


# --- maxima, range, peaks ---------------------------------------------------------------------------------------------


def test_loudest_moment_and_where() -> None:
    measured = level(signals.tone_steps([(5.0, -30.0), (0.4, -10.0), (5.0, -30.0)]))
    assert measured.momentary_max_lufs == pytest.approx(-10.0, abs=0.05)
    assert measured.momentary_max_at_s == pytest.approx(5.0, abs=0.011)
    assert measured.short_term_max_lufs == pytest.approx(10 * np.log10((0.4 * 0.1 + 2.6 * 0.001) / 3), abs=0.05)


def test_short_term_course_is_placed_at_the_windows_centres() -> None:
    measured = level(signals.tone_steps([(5.0, -30.0), (5.0, None), (6.0, -20.0)]))
    course = measured.short_term
    assert (course.start_s, course.step_s, len(course.values)) == (1.5, 1.0, 14)
    assert course.values[0] == pytest.approx(-30.0, abs=0.05)
    assert course.values[6] is None  # 6-9 s: nothing plays
    assert course.values[13] == pytest.approx(-20.0, abs=0.05)


def test_range_by_the_percentiles_of_the_standard() -> None:
    """Independent of the meter: 3 s means of a ramp, sorted, picked by the published index."""
    energy = 10 ** (np.linspace(-40, -20, 6000) / 10)
    padded = np.concatenate([energy, np.zeros(150)])
    short = 10 * np.log10([padded[a : a + 300].mean() for a in range(0, len(padded) - 299, 10)])
    gated = np.sort(short[short >= 10 * np.log10(np.mean(10 ** (short / 10))) - 20])
    low, high = (gated[int(np.floor((len(gated) - 1) * share + 0.5))] for share in (0.10, 0.95))
    assert loudness_range(energy) == pytest.approx(high - low, abs=1e-6)


def test_peak_to_loudness_of_a_sine() -> None:
    measured = level(signals.sine(997, 10, peak_dbfs=-12.0))
    assert measured.sample_peak_dbfs == pytest.approx(-12.0, abs=0.01)
    assert measured.true_peak_dbtp == pytest.approx(-12.0, abs=0.03)  # the cut start and end ring a little
    assert measured.plr_db == pytest.approx(0.0, abs=0.03)


def test_smallest_psr_leaves_quiet_parts_out() -> None:
    """Noise that peaks high, then flat sines: one 3 dB below the noise's loudness, one 30 dB below it."""
    noise = signals.pink(8, rms_dbfs=-18.0, correlation=1.0)
    loud, quiet = signals.sine(1000, 8, peak_dbfs=-20.0), signals.sine(997, 8, peak_dbfs=-50.0)
    measured = level(np.concatenate([noise, quiet, loud], axis=1))
    assert measured.psr_min_db == pytest.approx(0.0, abs=0.1)
    assert measured.psr_min_at_s is not None
    assert measured.psr_min_at_s >= 16.0
    assert level(np.concatenate([noise, quiet], axis=1)).psr_min_db == pytest.approx(
        min(value for value in measured.psr.values[:6] if value is not None), abs=0.5
    )


def test_psr_of_the_densest_section() -> None:
    noise, tone = signals.pink(10, rms_dbfs=-18.0, correlation=1.0), signals.sine(1000, 10, peak_dbfs=-20.0)
    trace = traced(np.concatenate([noise, tone], axis=1))
    assert measure_level(trace, records.sections(densest=Span(12.0, 20.0))).psr_densest_db == pytest.approx(0.0, abs=0.05)
    in_noise = measure_level(trace, records.sections(densest=Span(0.0, 8.0))).psr_densest_db
    assert in_noise is not None
    assert in_noise > 8.0
    nowhere = measure_level(trace, records.sections(densest=Span(30.0, 40.0)))
    assert nowhere.psr_densest_db is None
    assert "densest" in reasons(nowhere)["psr_densest_db"]


def test_stretches_over_full_scale_are_joined_and_sorted() -> None:
    samples = signals.sine(440, 6, peak_dbfs=-6.0)
    for start_s, height in ((1.0, 1.2), (1.05, 1.3), (3.0, 1.5)):
        samples[0, round(start_s * 48000)] = height
    moments = level(samples).peaks_over_full_scale
    assert len(moments) == 2
    first, second = moments
    assert first.start_s == pytest.approx(3.0, abs=0.011)
    assert first.value >= 20 * np.log10(1.5) - 1e-4
    assert second.start_s == pytest.approx(1.0, abs=0.011)
    assert second.end_s == pytest.approx(1.06, abs=0.011)
    assert second.value >= 20 * np.log10(1.3) - 1e-4


def test_full_scale_itself_is_no_over_and_at_most_twenty_stretches_are_told() -> None:
    loud = signals.clicks([0.1 + 0.3 * i for i in range(30)], 10, height=1.5)
    assert len(level(loud).peaks_over_full_scale) == 20
    constant = signals.fade(np.ones(48000), 48000, 0.2)
    assert level(signals.stereo(constant)).peaks_over_full_scale == ()


def test_values_above_full_scale_are_kept() -> None:
    measured = level(signals.sine(997, 3, peak_dbfs=6.0))
    assert measured.integrated_lufs == pytest.approx(6.0, abs=0.01)
    assert measured.sample_peak_dbfs == pytest.approx(6.0, abs=0.01)


# --- stereo helpers ---------------------------------------------------------------------------------------------------


def test_mono_fold() -> None:
    wave, other = signals.pink_wave(6), signals.pink_wave(6, seed=2)
    centred = traced(signals.stereo(wave))
    assert mono_fold_loudness(centred) == pytest.approx(measure_level(centred).integrated_lufs, abs=1e-6)
    apart = traced(signals.correlated(wave, other, 0.0))
    whole = measure_level(apart).integrated_lufs
    assert whole is not None
    assert mono_fold_loudness(apart) == pytest.approx(whole - 3.01, abs=0.15)
    assert mono_fold_loudness(traced(signals.stereo(wave, -wave))) is None


def test_each_channel_and_a_stretch_by_themselves() -> None:
    left, right = signals.sine_wave(997, 6, peak_dbfs=-10.0), signals.sine_wave(997, 6, peak_dbfs=-16.0)
    right[: 3 * 48000] = 0
    trace = traced(signals.stereo(left, right))
    first, second = channel_loudness(trace)
    assert first == pytest.approx(-13.01, abs=0.01)
    assert second == pytest.approx(-19.01, abs=0.3)  # the blocks in which the right channel sets in count too
    assert stretch_loudness(trace, Span(0.5, 2.5)) == pytest.approx(-13.01, abs=0.01)
    assert stretch_loudness(trace, Span(3.0, 3.3)) is None


# --- invariants -------------------------------------------------------------------------------------------------------


def test_block_size_changes_nothing() -> None:
    for rate_hz in (8000, 11025, 44100):
        samples = signals.pink(1.517, rate_hz, rms_dbfs=-10.0, correlation=0.4)
        whole = traced(samples, rate_hz, samples.shape[1])
        for block in (1, 441, 10007):
            parts = traced(samples, rate_hz, block)
            for name in ARRAYS:
                np.testing.assert_array_equal(getattr(whole, name), getattr(parts, name), err_msg=f"{name} at {block}")


def test_empty_blocks_change_nothing() -> None:
    samples = signals.pink(0.5)
    meter = LevelMeter(48000, 2)
    for block in (samples[:, :0], samples[:, :5000], samples[:, :0], samples[:, 5000:], samples[:, :0]):
        meter.push(block)
    np.testing.assert_array_equal(meter.finish().true_peak, traced(samples).true_peak)


def test_gain_moves_every_level_by_as_much() -> None:
    samples = signals.drums(8) * np.float32(0.5)
    plain, quieter = level(samples), level(samples * np.float32(10 ** (-6 / 20)))
    for name in ("integrated_lufs", "momentary_max_lufs", "short_term_max_lufs", "true_peak_dbtp", "sample_peak_dbfs"):
        assert getattr(quieter, name) == pytest.approx(getattr(plain, name) - 6.0, abs=1e-3)
    for name in ("loudness_range_lu", "plr_db", "psr_min_db", "psr_densest_db", "true_peak_at_s"):
        assert getattr(quieter, name) == pytest.approx(getattr(plain, name), abs=1e-3)


def test_swapped_channels_read_alike() -> None:
    samples = signals.pink(4, correlation=0.2)
    samples[1] *= 0.5
    assert level(samples) == level(samples[::-1])


def test_twice_the_song_has_the_same_loudness_and_range() -> None:
    samples = signals.tone_steps([(20, -20.0), (20, -30.0)])
    once, twice = level(samples), level(np.concatenate([samples, samples], axis=1))
    assert twice.integrated_lufs == pytest.approx(once.integrated_lufs, abs=0.02)
    assert twice.loudness_range_lu == pytest.approx(once.loudness_range_lu, abs=0.05)


@pytest.mark.parametrize("rate_hz", [8000, 8050, 11025, 22050, 44100, 192000])
def test_steps_cover_the_sound_at_any_rate(rate_hz: int) -> None:
    for frames in (1, rate_hz // 100 - 1, rate_hz // 100, rate_hz // 100 + 1, rate_hz // 3):
        samples = np.full((2, frames), 0.25, np.float32)
        trace = traced(samples, rate_hz)
        edges = step_edges(rate_hz, 0, trace.steps)
        assert edges[-2] < frames <= edges[-1]
        assert trace.whole_steps == trace.steps - int(edges[-1] > frames)
        np.testing.assert_allclose(trace.energy, 0.0625, rtol=1e-6)


# --- bad input --------------------------------------------------------------------------------------------------------


def test_silence() -> None:
    measured = level(signals.silence(5))
    assert measured.integrated_lufs is None
    assert measured.true_peak_dbtp is None
    assert reasons(measured)["integrated_lufs"] == "nothing is louder than -70 LUFS"
    assert reasons(measured)["true_peak_dbtp"] == "every sample is zero"
    assert all(value is None for value in measured.short_term.values + measured.psr.values)


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("frames", [0, 1, 480, 19199])
def test_shorter_than_one_block(frames: int, channels: int) -> None:
    measured = level(np.full((channels, frames), 0.5, np.float32))
    assert measured.integrated_lufs is None
    assert reasons(measured)["integrated_lufs"]
    if frames:
        assert measured.sample_peak_dbfs == pytest.approx(-6.02, abs=0.01)


def test_shorter_than_3_s_has_no_short_term() -> None:
    measured = level(signals.sine(997, 2.9, peak_dbfs=-20.0))
    assert measured.integrated_lufs is not None
    assert measured.short_term_max_lufs is None
    assert measured.loudness_range_lu is None
    assert reasons(measured)["loudness_range_lu"] == "the sound is shorter than 3.0 s"
    assert measured.short_term.values == ()


def test_every_missing_field_has_its_reason_and_no_other() -> None:
    for samples in (signals.silence(5), signals.sine(997, 1), signals.sine(997, 4), signals.silence(0)):
        measured = level(samples)
        missing = {name for name in Level.__slots__ if getattr(measured, name) is None}
        assert set(reasons(measured)) == missing


# --- independent meters -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate_hz", [44100, 48000])
def test_agrees_with_pyloudnorm(rate_hz: int) -> None:
    """Its "DeMan" filters are the standard's coefficients at other rates; its default ones differ by 0.04 LU."""
    samples = np.concatenate([signals.pink(6, rate_hz, -18.0), signals.pink(6, rate_hz, -30.0, seed=4)], axis=1)
    meter = pyloudnorm.Meter(rate_hz, filter_class="DeMan")
    theirs = meter.integrated_loudness(samples.T.astype(np.float64))
    assert level(samples, rate_hz).integrated_lufs == pytest.approx(theirs, abs=0.005)


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")
def test_agrees_with_ffmpeg(tmp_path: Path) -> None:
    """Its meter prints one decimal; its loudness range steps and picks percentiles in another way."""
    path = tmp_path / "noise.wav"
    parts = [signals.pink(20, 44100, level_db, seed) for seed, level_db in enumerate((-20.0, -26.0, -17.0))]
    samples = np.concatenate(parts, axis=1)
    soundfile.write(path, samples.T, 44100, "FLOAT")
    command = ["ffmpeg", "-nostdin", "-hide_banner", "-i", str(path), "-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-"]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stderr
    summary = said[said.rindex("Summary:") :]
    theirs = {name: float(re.findall(rf"{name}:\s+(-?[\d.]+)", summary)[0]) for name in ("I", "LRA", "Peak")}
    ours = level(samples, 44100)
    assert ours.integrated_lufs == pytest.approx(theirs["I"], abs=0.06)
    assert ours.loudness_range_lu == pytest.approx(theirs["LRA"], abs=0.3)
    assert ours.true_peak_dbtp == pytest.approx(theirs["Peak"], abs=0.2)
