"""The low end: level, width, and the kick against the bass."""

from math import inf, log10

import numpy as np
import pytest

from features.hits.audibility import HitMeter
from features.hits.low_end import measure_low_end
from features.records.low_end import LowEnd
from features.sound.signal import Samples
from features.sound.spectrogram import SpectrogramMeter
from tests import signals

RATE = 44100
DURATION = 16.0


def low_end_of(samples: Samples, rate_hz: int = RATE, block: int = 1 << 17) -> LowEnd:
    hits, spectrogram = HitMeter(rate_hz, samples.shape[0]), SpectrogramMeter(rate_hz, samples.shape[0])
    for start in range(0, samples.shape[1], block):
        hits.push(samples[:, start : start + block])
        spectrogram.push(samples[:, start : start + block])
    return measure_low_end(hits.finish(), spectrogram.finish())


def song(kick_hz: float, bass_hz: float, bass: float = 0.15, rate_hz: int = RATE) -> np.ndarray:
    kick = signals.placed(signals.kick_wave(rate_hz, tune_hz=kick_hz), signals.beat_times(DURATION), DURATION, rate_hz)
    return kick + bass * signals.sine_wave(bass_hz, DURATION, rate_hz)


def thirds_apart(one_hz: float | None, other_hz: float) -> float:
    return inf if one_hz is None else abs(10 * log10(one_hz / other_hz))


@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
@pytest.mark.parametrize(("kick_hz", "bass_hz"), [(50.0, 100.0), (80.0, 45.0), (60.0, 150.0)])
def test_kick_and_bass_are_read_within_a_third_octave(rate_hz: int, kick_hz: float, bass_hz: float) -> None:
    low_end = low_end_of(signals.stereo(0.7 * song(kick_hz, bass_hz, rate_hz=rate_hz)), rate_hz)
    assert thirds_apart(low_end.kick_hz, kick_hz) < 1.0
    assert thirds_apart(low_end.bass_hz, bass_hz) < 0.3
    assert low_end.kick_count == pytest.approx(32, abs=2)


def test_same_slot_overlaps_and_two_octaves_apart_does_not() -> None:
    same, apart = (low_end_of(signals.stereo(song(50.0, bass_hz))).slot_overlap for bass_hz in (60.0, 200.0))
    assert same is not None
    assert apart is not None
    assert same > 0.65
    assert apart < 0.4


def test_more_bass_means_less_lift() -> None:
    lifts = [low_end_of(signals.stereo(0.6 * song(50.0, 110.0, bass))).kick_lift_db or 0.0 for bass in (0.02, 0.1, 0.2)]
    assert lifts[0] > lifts[1] + 3.0 > lifts[2] + 4.0


@pytest.mark.parametrize("depth_db", [3.0, 6.0])
def test_a_bass_that_ducks_is_seen(depth_db: float) -> None:
    phase = (np.arange(round(DURATION * RATE)) / RATE) % 0.5
    gain = 10 ** (-depth_db / 20 * np.clip(phase / 0.005, 0, 1) * np.clip((0.3 - phase) / 0.05, 0, 1))
    kick = signals.placed(signals.kick_wave(RATE, decay_s=0.03), signals.beat_times(DURATION), DURATION, RATE)
    ducked = low_end_of(signals.stereo(0.6 * (kick + 0.1 * gain * signals.sine_wave(110.0, DURATION, RATE))))
    steady = low_end_of(signals.stereo(0.6 * (kick + 0.1 * signals.sine_wave(110.0, DURATION, RATE))))
    assert ducked.kick_dip_db == pytest.approx(depth_db, abs=1.0)
    assert steady.kick_dip_db == pytest.approx(0.0, abs=0.5)


def test_shares_of_sub_and_bass() -> None:
    tones = signals.stereo(
        0.2 * (signals.sine_wave(40.0, 6.0, RATE) + signals.sine_wave(120.0, 6.0, RATE) + signals.sine_wave(1000.0, 6.0, RATE))
    )
    low_end = low_end_of(tones)
    assert low_end.sub_share_db == pytest.approx(10 * log10(1 / 3), abs=0.1)
    assert low_end.bass_share_db == pytest.approx(10 * log10(1 / 3), abs=0.1)


# Closed forms: side against mid and fold-down loss 10 log10((1 + r) / 2) of a tone with correlation r between the channels.
@pytest.mark.parametrize(("angle_degrees", "correlation"), [(0.0, 1.0), (60.0, 0.5), (90.0, 0.0), (120.0, -0.5)])
def test_width_below_120_hz(angle_degrees: float, correlation: float) -> None:
    left, right = (signals.sine_wave(80.0, 6.0, RATE, -12.0, phase) for phase in (0.0, angle_degrees))
    low_end = low_end_of(signals.stereo(left, right))
    assert low_end.mono_loss_db == pytest.approx(-10 * log10((1 + correlation) / 2), abs=0.05)
    if correlation < 1.0:
        assert low_end.side_level_db == pytest.approx(10 * log10((1 - correlation) / (1 + correlation)), abs=0.1)
        assert len(low_end.widest) > 0
    else:
        assert low_end.side_level_db is None
        assert low_end.widest == ()


def test_an_offset_in_one_channel_is_no_width_and_no_sound() -> None:
    tone = 0.2 * signals.sine_wave(80.0, 6.0, RATE)
    clean, shifted = (low_end_of(signals.stereo(tone, tone + offset)) for offset in (0.0, 0.3))
    assert shifted.mono_loss_db == pytest.approx(0.0, abs=0.02)
    assert shifted.side_level_db is None or shifted.side_level_db < -25.0
    assert shifted.bass_share_db == pytest.approx(clean.bass_share_db, abs=0.02)


def test_upside_down_low_end_is_bounded() -> None:
    wave = signals.sine_wave(80.0, 6.0, RATE, -12.0)
    low_end = low_end_of(signals.stereo(wave, -wave))
    assert low_end.mono_loss_db == 60.0
    assert low_end.side_level_db is not None
    assert low_end.side_level_db >= 60.0


def test_only_the_wide_part_is_named() -> None:
    left = signals.sine_wave(80.0, 20.0, RATE, -12.0)
    right = left.copy()
    right[10 * RATE :] = signals.sine_wave(80.0, 10.0, RATE, -12.0, 90.0)
    widest = low_end_of(signals.stereo(left, right)).widest
    assert len(widest) > 0
    assert all(span.end_s > 10.0 for span in widest)


def test_notes_of_two_levels_and_a_jump() -> None:
    notes = [signals.fade(signals.sine_wave(70.0, 0.5, RATE, -12.0 - 6.0 * (number % 2)), RATE, 0.01) for number in range(32)]
    assert low_end_of(signals.stereo(np.concatenate(notes))).note_spread_db == pytest.approx(6.0, abs=1.0)
    steady = low_end_of(signals.sine(70.0, 16.0, RATE, -12.0))
    assert steady.note_spread_db == pytest.approx(0.0, abs=0.3)
    assert steady.uneven == ()
    jump = low_end_of(signals.tone_steps([(12.0, -20.0), (12.0, -12.0)], RATE, 70.0)).uneven
    assert jump[0].value == pytest.approx(8.0, abs=0.3)
    assert (jump[0].start_s + jump[0].end_s) / 2 == pytest.approx(12.0, abs=0.6)


def test_course_is_relative_to_its_own_median_and_leaves_silence_out() -> None:
    course = low_end_of(signals.tone_steps([(10.0, -20.0), (3.0, None), (4.0, -14.0)], RATE, 70.0)).level
    assert course.values[8] == pytest.approx(0.0, abs=0.1)
    assert course.values[22] is None
    assert course.values[30] == pytest.approx(6.0, abs=0.1)
    assert len(course.values) == 34


def test_gain_swap_and_blocks_do_not_matter() -> None:
    samples = signals.stereo(0.5 * song(50.0, 90.0)) + signals.white(DURATION, RATE, -40.0)
    whole = low_end_of(samples)
    assert low_end_of(samples, block=12345) == whole
    for other in (low_end_of(samples * np.float32(0.5)), low_end_of(samples[::-1])):
        assert other.kick_times_s == whole.kick_times_s
        for name in (
            "sub_share_db",
            "bass_share_db",
            "kick_hz",
            "bass_hz",
            "kick_lift_db",
            "slot_overlap",
            "side_level_db",
            "note_spread_db",
        ):
            assert getattr(other, name) == pytest.approx(getattr(whole, name), abs=0.05), name


def test_weakest_kicks_are_those_under_the_bass() -> None:
    wave = song(50.0, 100.0, bass=0.0)
    half = len(wave) // 2
    wave[half:] += 0.2 * signals.sine_wave(100.0, DURATION, RATE)[half:]
    weakest = low_end_of(signals.stereo(0.6 * wave)).weakest_kicks
    assert weakest[0].start_s >= 6.0
    assert weakest[0].value < 15.0


@pytest.mark.parametrize(
    "samples", [signals.silence(3.0, RATE), np.zeros((1, 0), np.float32), np.full((1, 1), 0.5, np.float32), signals.drums(0.1, 8000)]
)
def test_without_a_low_end_every_none_has_its_reason(samples: Samples) -> None:
    low_end = low_end_of(samples)
    names = {absence.field for absence in low_end.absent}
    for name in (
        "sub_share_db",
        "bass_share_db",
        "kick_hz",
        "bass_hz",
        "kick_lift_db",
        "kick_dip_db",
        "slot_overlap",
        "side_level_db",
        "mono_loss_db",
    ):
        value = getattr(low_end, name)
        assert (value is None) == (name in names), name
        assert value is None or np.isfinite(value)
    assert all(absence.reason for absence in low_end.absent)
    assert low_end.kick_count == 0


def test_mono_has_no_side() -> None:
    low_end = low_end_of(signals.mono(song(50.0, 100.0)))
    assert low_end.side_level_db is None
    assert low_end.mono_loss_db == 0.0
    assert "the file is mono" in {absence.reason for absence in low_end.absent}
