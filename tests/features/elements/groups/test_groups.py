"""Groups: the thresholds give the reduction they promise, only stray peaks are strays, and the blend does what it says."""

import numpy as np
import pytest

from features.elements.groups.glue import GLUE, KNEE_DB, NeedleReader, static_reduction_db
from features.elements.groups.groups import GroupMeter, GroupTrace, loudest_stretch, measure_group
from features.elements.groups.parallel import KNEE_DB as PARALLEL_KNEE_DB
from features.elements.groups.parallel import RATIO, TIMING, find_blend
from features.elements.groups.strays import find_strays, resting_share
from features.loudness.gating import integrated_from_steps
from features.processors.dynamics.compressor import Curve, parallel, reduction_db, static_output_db
from features.processors.dynamics.peak_limiter import peak_limiter
from features.records.elements import ElementGroup
from features.sound.signal import Samples, Signal
from tests import signals
from tests.signals import Floats

RATE = signals.RATE_HZ


def traced(samples: Samples, rate_hz: int = RATE, size: int = 1 << 17) -> GroupTrace:
    meter = GroupMeter(rate_hz, samples.shape[0])
    for at in range(0, samples.shape[1], size):
        meter.push(samples[:, at : at + size])
    return meter.finish()


def measured(samples: Samples) -> ElementGroup:
    trace = traced(samples)
    span = loudest_stretch(trace)
    loudest = None if span is None else signals.signal(samples[:, round(span.start_s * RATE) : round(span.end_s * RATE)])
    return measure_group("drums", ("kick", "snare"), trace, loudest)


def smoothed_power(level: Floats) -> Floats:
    """Plain recursion, as the glue module's docstring gives it."""
    attack, release = np.exp(-1000 / (GLUE.attack_ms * RATE)), np.exp(-1000 / (GLUE.release_ms * RATE))
    power_now, out = 0.0, np.empty(len(level))
    for n, power in enumerate(level**2):
        share = attack if power > power_now else release
        power_now = share * power_now + (1 - share) * power
        out[n] = power_now
    return out


def swing(values: Floats, level: Floats) -> float:
    count = len(level) // (RATE // 2)
    windows = [part[: count * RATE // 2].reshape(count, -1).max(axis=1) for part in (values, level)]
    return float(np.median(windows[0][windows[1] > windows[1].max() / 10]))


@pytest.mark.parametrize("ratio", [2.0, 4.0])
def test_glue_threshold_gives_two_decibels_on_average_of_both_detectors(ratio: float) -> None:
    drums = signals.signal(signals.drums(6.0))
    threshold = NeedleReader(drums).threshold(ratio)
    assert threshold is not None
    curve = Curve(threshold, ratio, KNEE_DB)
    level = np.abs(drums.samples).max(axis=0).astype(np.float64)
    ours = swing(reduction_db(drums, curve, GLUE).astype(np.float64), level)
    power_db = 10 * np.log10(np.maximum(smoothed_power(level), 1e-20))
    other = swing(np.array([level_db - static_output_db(level_db, curve) for level_db in power_db[::16]]).repeat(16)[: len(level)], level)
    assert (ours + other) / 2 == pytest.approx(2.0, abs=0.1)
    assert ours == pytest.approx(2.0, abs=0.5)
    assert other == pytest.approx(2.0, abs=0.5)


def test_glue_on_a_square_wave_follows_from_the_curve() -> None:
    """A square wave has one level for every detector: 2 dB at 2:1 past the knee's half needs 4 dB over the threshold."""
    square = signals.signal(np.sign(signals.sine(100.3, 4.0)) * np.float32(0.5))
    threshold = NeedleReader(square).threshold(2.0)
    assert threshold == pytest.approx(20 * np.log10(0.5) - 4.0, abs=0.1)


def test_static_reduction_is_the_compressors_curve() -> None:
    curve = Curve(-20.0, 4.0, 10.0)
    levels = np.array([-40.0, -25.0, -22.5, -20.0, -17.5, -15.0, -10.0, 0.0])
    truth = [level_db - static_output_db(level_db, curve) for level_db in levels.tolist()]
    assert np.allclose(static_reduction_db(levels, curve), truth)


def test_glue_moves_with_the_gain_and_not_with_the_channels() -> None:
    drums = signals.drums(6.0)
    own = NeedleReader(signals.signal(drums)).threshold(2.0)
    softer = NeedleReader(signals.signal(drums * np.float32(signals.amplitude(-10.0)))).threshold(2.0)
    assert own is not None
    assert softer == pytest.approx(own - 10.0, abs=0.1)
    assert NeedleReader(signals.signal(drums[::-1])).threshold(2.0) == pytest.approx(own, abs=1e-6)
    assert NeedleReader(signals.signal(signals.drums(6.0, 96000), 96000)).threshold(2.0) == pytest.approx(own, abs=0.3)


def hits(heights: Floats, every_s: float = 0.5) -> Samples:
    """Return a stroke of each height, one after the other."""
    frames = round(every_s * RATE)
    stroke = np.exp(-np.arange(frames) / (0.03 * RATE)) * np.sin(2 * np.pi * 200 * np.arange(frames) / RATE)
    return signals.stereo((heights[:, None] * stroke).reshape(-1))


def uneven(count: int = 120, seed: int = 3) -> Floats:
    return np.asarray(10 ** (np.random.default_rng(seed).uniform(-4.0, 0.0, count) / 20) * 0.3)


def test_planted_strays_are_all_and_only_found_and_the_limiter_catches_only_them() -> None:
    heights = uneven()
    planted = [7, 23, 44, 61, 62, 80, 97, 111]  # eight in a minute
    heights[planted] *= signals.amplitude(7.0)
    heights[[23, 97]] = 0.3 * signals.amplitude(6.0)
    samples = hits(heights)
    group = measured(samples)
    assert group.stray_peaks_per_minute == pytest.approx(8.0, abs=0.2)
    assert sorted(round((moment.start_s + 0.05) * 2) for moment in group.stray_peaks) == planted
    assert [moment.value for moment in group.stray_peaks] == sorted((moment.value for moment in group.stray_peaks), reverse=True)
    assert group.ceiling_dbfs is not None
    assert group.resting_share is not None
    limited = peak_limiter(signals.signal(samples), group.ceiling_dbfs).samples
    touched = np.abs(limited - samples).reshape(2, len(heights), -1).max(axis=(0, 2)) > 1e-3
    assert sorted(set(np.flatnonzero(touched).tolist())) == planted
    assert group.resting_share > 0.97
    worked = (np.abs(limited) < np.abs(samples) * signals.amplitude(-0.1)).any(axis=0).reshape(-1, 48).any(axis=1)
    assert 1 - worked.mean() == pytest.approx(group.resting_share, abs=0.015)


def test_no_strays_in_even_hits_nor_in_a_louder_section() -> None:
    even = measured(hits(uneven()))
    assert even.stray_peaks == ()
    assert even.stray_peaks_per_minute == 0.0
    assert even.ceiling_dbfs is None
    assert even.resting_share is None
    section = uneven()
    section[60:100] *= signals.amplitude(7.0)
    assert measured(hits(section)).stray_peaks == ()


def test_strays_do_not_depend_on_the_gain() -> None:
    heights = uneven()
    heights[[10, 50, 90]] *= 2.5
    peak = traced(hits(heights)).envelope.peak
    plain, half = find_strays(peak, 60.0), find_strays(peak * np.float32(0.5), 60.0)
    assert len(plain.times_s) == 3
    assert np.array_equal(plain.times_s, half.times_s)
    assert plain.ceiling_dbfs is not None
    assert half.ceiling_dbfs == pytest.approx(plain.ceiling_dbfs - 20 * np.log10(2), abs=1e-4)


def test_a_limiter_above_everything_rests() -> None:
    assert resting_share(np.full(1000, 0.5, np.float32), 0.0) == 1.0
    assert resting_share(np.full(1000, 0.5, np.float32), -12.0) < 0.05


def lively(seed: int = 5) -> Signal:
    """Loud and soft phrases, 20 dB apart, a second each."""
    noise = signals.pink(12.0, rms_dbfs=-12.0, seed=seed, correlation=0.5)
    gain = np.where(np.arange(noise.shape[1]) // RATE % 2 == 0, 1.0, signals.amplitude(-20.0))
    return signals.signal((noise * gain).astype(np.float32))


def test_parallel_blend_does_on_sound_what_was_computed() -> None:
    sound = lively()
    blend = find_blend(sound)
    assert blend is not None
    done = parallel(sound, Curve(blend.threshold_dbfs, RATIO, PARALLEL_KNEE_DB), TIMING, blend.blend_db)
    rise = 20 * np.log10(np.abs(done.samples).max() / np.abs(sound.samples).max())
    assert rise == pytest.approx(blend.peak_rise_db, abs=0.01)
    assert rise < 0.5
    assert blend.lift_db == pytest.approx(3.0, abs=0.25)
    soft = np.arange(sound.frames) // RATE % 2 == 1
    gained = 10 * np.log10(np.mean(done.samples[:, soft] ** 2) / np.mean(sound.samples[:, soft] ** 2))
    assert gained == pytest.approx(blend.lift_db, abs=0.7)


def test_parallel_says_nothing_where_it_can_do_nothing() -> None:
    assert find_blend(signals.signal(signals.sine(200.0, 5.0, peak_dbfs=-3.0))) is None  # quiet parts are as loud as the peak
    assert find_blend(signals.signal(signals.silence(2.0))) is None
    assert find_blend(signals.signal(signals.drums(0.3))) is None


def test_blocks_do_not_matter_and_the_loudness_is_the_gated_one() -> None:
    samples = signals.drums(5.0)
    trace, many = traced(samples), traced(samples, size=777)
    assert np.array_equal(trace.k_energy, many.k_energy)
    assert np.array_equal(trace.envelope.peak, many.envelope.peak)
    tone = traced(signals.sine(997.0, 5.0))
    assert integrated_from_steps(tone.k_energy) == pytest.approx(0.0, abs=0.05)  # BS.1770-5: full scale in both channels, -3.01 for one
    assert integrated_from_steps(traced(signals.sine(997.0, 5.0, channels=1)).k_energy) == pytest.approx(-3.01, abs=0.05)


def test_loudest_stretch() -> None:
    samples = signals.tone_steps([(10.0, -30.0), (30.0, -10.0), (10.0, -30.0)], rate_hz=8000, channels=1)
    span = loudest_stretch(traced(samples, 8000))
    assert span is not None
    assert span.start_s == pytest.approx(10.0, abs=0.1)
    assert span.end_s == pytest.approx(40.0, abs=0.1)


@pytest.mark.parametrize("samples", [signals.silence(1.0), signals.silence(0.0), signals.mono(np.ones(1)), signals.drums(0.2) * 4])
def test_bad_input_gives_a_record_without_settings_or_finite_ones(samples: Samples) -> None:
    group = measured(samples)
    for value in (group.integrated_lufs, group.glue_2_dbfs, group.glue_4_dbfs, group.ceiling_dbfs, group.parallel_blend_db):
        assert value is None or np.isfinite(value)
    if not samples.any():
        assert group.glue_2_dbfs is None
        assert group.stray_peaks_per_minute is None
