"""Crest, spread, hit variation and jumps per octave: planted and absent, invariants, nothing to measure."""

import numpy as np
import pytest

from features.loudness.crest import _tops_and_means
from features.records.base import Span
from features.records.sections import Section, Sections
from features.sound.signal import Samples
from tests import signals
from tests.sounds.meters import crest_of, octaves_of

RATE_HZ = signals.RATE_HZ


def parts(*spans: tuple[float, float, float]) -> Sections:
    sections = tuple(Section(start, end, lufs) for start, end, lufs in spans)
    return Sections(sections, Span(0.0, 30.0), -14.0, None, None)


def test_drums_have_more_crest_than_a_held_chord() -> None:
    drums = crest_of(signals.drums(12.0)).crest_db
    chord = crest_of(signals.stereo(0.3 * signals.chord_wave(12.0))).crest_db
    for band in (2, 3, 4):
        drums_db, chord_db = drums[band], chord[band]
        assert drums_db is not None
        assert chord_db is not None
        assert drums_db > chord_db + 3.0


def test_blocks_of_any_size_give_the_same_bands() -> None:
    samples = signals.pink(7.3)
    whole = octaves_of(samples)
    for block in (1000, 77777):
        split = octaves_of(samples, block=block)
        np.testing.assert_array_equal(split.peak, whole.peak)
        np.testing.assert_array_equal(split.energy, whole.energy)


def test_the_join_between_chunks_is_seamless() -> None:
    trace = octaves_of(signals.sine(1000.0, 12.0))
    inside = trace.peak[5, 100:1100]
    assert float(np.ptp(inside)) < 1e-3


def test_steps_do_not_drift_at_an_odd_rate() -> None:
    rate_hz = 11025
    samples = signals.clicks((20.005,), 24.0, rate_hz)
    trace = octaves_of(samples, rate_hz)
    assert trace.peak.shape[1] == 2400
    assert int(trace.peak[6].argmax()) == 2000


@pytest.mark.parametrize("rate_hz", [8000, 32000, 44100, 96000, 192000])
def test_sampling_rates_agree(rate_hz: int) -> None:
    wave = signals.pink_wave(6.0, rate_hz, high_hz=3500.0)
    level = 10.0 * np.log10(octaves_of(signals.mono(wave), rate_hz).energy[4].mean())
    same = signals.pink_wave(6.0, 48000, high_hz=3500.0)
    assert level == pytest.approx(10.0 * np.log10(octaves_of(signals.mono(same)).energy[4].mean()), abs=0.4)


def test_gain_and_swap_change_no_reading_in_db() -> None:
    samples = signals.drums(12.0)
    times = signals.beat_times(12.0)
    crest = crest_of(samples, hit_times_s=times)
    for other in (crest_of(0.25 * samples, hit_times_s=times), crest_of(np.ascontiguousarray(samples[::-1]), hit_times_s=times)):
        for name in ("crest_db", "spread_db", "hit_variation_db"):
            for reading, other_reading in zip(getattr(crest, name), getattr(other, name), strict=True):
                assert (reading is None) == (other_reading is None)
                if reading is not None:
                    assert other_reading == pytest.approx(reading, abs=0.05)


def test_a_sound_in_one_channel_has_the_crest_of_the_sound() -> None:
    wave = signals.fade(signals.sine_wave(1000.0, 8.0, peak_dbfs=-6.0), RATE_HZ, 0.5)
    assert crest_of(signals.stereo(wave, 0.0 * wave)).crest_db[5] == pytest.approx(crest_of(signals.stereo(wave)).crest_db[5], abs=1e-3)


def steps_wave(levels_db: tuple[float, ...], seconds: float) -> Samples:
    return signals.tone_steps([(seconds, level) for level in levels_db], frequency_hz=1000.0)


def test_spread_is_the_range_of_the_level() -> None:
    even = crest_of(steps_wave((-20.0,) * 20, 1.0)).spread_db[5]
    uneven = crest_of(steps_wave((-20.0, -28.0) * 10, 1.0), sections=parts((0.0, 20.0, -14.0))).spread_db[5]
    assert even == pytest.approx(0.0, abs=0.1)
    assert uneven == pytest.approx(8.0, abs=0.3)


def test_spread_leaves_out_the_quiet_sections() -> None:
    samples = steps_wave((-40.0,) * 10 + (-20.0,) * 20, 1.0)
    spread_db = crest_of(samples, sections=parts((0.0, 10.0, -37.0), (10.0, 30.0, -17.0))).spread_db[5]
    assert spread_db == pytest.approx(0.0, abs=0.2)


@pytest.mark.parametrize("spread_db", [0.0, 3.0, 5.0])
def test_hit_variation_is_the_standard_deviation_from_hit_to_hit(spread_db: float) -> None:
    times = signals.beat_times(30.0)[1:]
    wave = np.zeros(30 * RATE_HZ)
    kick = signals.kick_wave(peak=0.25)
    for number, time_s in enumerate(times):
        level = spread_db * (1 if number % 2 else -1)
        start = round(time_s * RATE_HZ)
        part = kick[: len(wave) - start] * signals.amplitude(level)
        wave[start : start + len(part)] += part
    variation_db = crest_of(signals.stereo(wave), hit_times_s=times).hit_variation_db[1]
    assert variation_db == pytest.approx(spread_db, abs=0.25)  # two levels, equally often: SD = half their distance


def test_the_widest_jump_is_found_where_it_is() -> None:
    jump = crest_of(steps_wave((-20.0,) * 12 + (-29.0,) * 12, 1.0)).widest_jump[5]
    assert jump is not None
    assert jump.value == pytest.approx(9.0, abs=0.1)
    assert (jump.start_s, jump.end_s) == (9.0, 15.0)


def test_a_jump_between_two_sections_is_meant() -> None:
    samples = steps_wave((-20.0,) * 12 + (-29.0,) * 12, 1.0)
    jump = crest_of(samples, sections=parts((0.0, 12.0, -17.0), (12.0, 24.0, -26.0))).widest_jump[5]
    assert jump is not None
    assert jump.value == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize(
    "samples", [signals.silence(0.0), signals.silence(2.0), np.full((1, 1), 0.5, np.float32), np.full((2, 30), 0.5, np.float32)]
)
def test_short_and_silent_sounds_are_no_error(samples: Samples) -> None:
    crest = crest_of(samples)
    assert set(crest.spread_db) == {None}
    assert set(crest.hit_variation_db) == {None}
    assert {absence.field for absence in crest.absent} >= {"hit_variation_db"}
    assert all(value is None or np.isfinite(value) for value in crest.crest_db)


def test_bands_above_half_the_rate_are_absent() -> None:
    crest = crest_of(signals.pink(4.0, 8000), 8000)
    assert crest.crest_db[8] is None
    assert crest.crest_db[9] is None
    assert crest.crest_db[5] is not None
    assert any(absence.field == "crest_db" for absence in crest.absent)


def test_course_of_a_sine_then_a_square() -> None:
    sine = signals.sine_wave(500.0, 6.0, RATE_HZ, -6.0)
    both = np.concatenate((sine, 0.3 * np.sign(np.sin(2 * np.pi * 100.0 * np.arange(6 * RATE_HZ) / RATE_HZ + 0.01)), np.zeros(4 * RATE_HZ)))
    course = crest_of(np.tile(both, (2, 1)).astype(np.float32)).over_time
    assert course.values[0] == pytest.approx(3.01, abs=0.02)  # crest of a sine and a square: closed forms
    assert course.values[8] == pytest.approx(0.0, abs=0.02)
    assert course.values[-1] is None


@pytest.mark.parametrize("per_step", [1, 2, 7])
def test_tops_and_means_of_steps_equal_those_of_numpy(per_step: int) -> None:
    generator = np.random.default_rng(5)
    waves = generator.normal(size=(3, 2, 20 * per_step, 2)).astype(np.float32).view(np.complex64)[..., 0]
    tops, means = np.zeros((3, 12), np.float32), np.zeros((3, 12), np.float32)
    _tops_and_means(waves, per_step, 4, tops, means)
    squares = (np.abs(waves.astype(np.complex128)) ** 2).reshape(3, 2, 20, per_step)[:, :, 4:16]
    np.testing.assert_allclose(tops, squares.max(axis=(1, 3)), rtol=1e-6)
    np.testing.assert_allclose(means, squares.mean(axis=3).max(axis=1), rtol=1e-6)
