"""Clipping told from rounded tops, square waves and limited peaks."""

import numpy as np
import pytest

from features.sound.signal import Samples
from tests import signals
from tests.sounds.meters import health_of

RATE_HZ = signals.RATE_HZ


def loud_song(duration_s: float = 6.0) -> Samples:
    chord = 0.3 * signals.chord_wave(duration_s)
    return np.asarray(signals.drums(duration_s) + signals.stereo(chord) + signals.pink(duration_s, rms_dbfs=-40.0), np.float32)


def as_16_bit(samples: Samples) -> Samples:
    return np.asarray(np.clip(np.round(samples * 32768.0), -32768, 32767) / 32768.0, np.float32)


@pytest.mark.parametrize("drive_db", [4.0, 6.0, 12.0])
@pytest.mark.parametrize("turned_down_db", [0.0, -3.3, -9.0])
def test_a_clipped_song_is_found_also_after_it_was_turned_down(drive_db: float, turned_down_db: float) -> None:
    clipped = as_16_bit(loud_song() / np.abs(loud_song()).max() * signals.amplitude(drive_db))
    health = health_of(as_16_bit(clipped * signals.amplitude(turned_down_db)), bits=16, subtype="PCM_16")
    assert health.clipped_runs >= 3
    assert health.clipped_longest >= 3
    assert health.clip_level_dbfs == pytest.approx(turned_down_db, abs=0.02)
    assert health.clipped
    assert len(health.clipped) <= 20
    assert health.clipped[0].value == health.clipped_longest


def test_the_same_song_unclipped_is_clean() -> None:
    for samples in (loud_song() / np.abs(loud_song()).max(), 0.2 * loud_song()):
        health = health_of(as_16_bit(samples), bits=16, subtype="PCM_16")
        assert health.clipped_runs == 0
        assert health.clip_level_dbfs is None


def test_the_places_are_where_it_clips() -> None:
    wave = signals.sine_wave(200.0, 6.0, peak_dbfs=-6.0)
    wave[3 * RATE_HZ : round(3.2 * RATE_HZ)] *= 4.0
    health = health_of(signals.stereo(np.clip(wave, -1.0, 1.0)))
    assert len(health.clipped) == 1
    assert health.clipped[0].start_s == pytest.approx(3.0, abs=0.1)
    assert health.clipped[0].end_s == pytest.approx(3.2, abs=0.15)


def test_clipping_under_a_later_louder_sound_is_found() -> None:
    clipped = np.clip(signals.sine_wave(300.0, 4.0, peak_dbfs=0.0), -0.6, 0.6)
    clipped[100000:100300] += np.hanning(300) * 0.3
    health = health_of(signals.stereo(clipped))
    assert health.clipped_runs > 1000
    assert health.clip_level_dbfs == pytest.approx(20 * np.log10(0.6), abs=0.01)


@pytest.mark.parametrize("frequency_hz", [20.0, 50.0, 110.0, 1000.0, 5000.0])
@pytest.mark.parametrize("peak", [0.999, 0.25])
def test_rounded_tops_of_pure_tones_are_not_flat(frequency_hz: float, peak: float) -> None:
    wave = peak * signals.sine_wave(frequency_hz, 3.0)
    assert health_of(as_16_bit(signals.stereo(wave)), bits=16, subtype="PCM_16").clipped_runs == 0


def test_square_waves_and_their_sums_are_no_clipping() -> None:
    time = np.arange(3 * RATE_HZ) / RATE_HZ
    square = np.where((110.0 * time) % 1.0 < 0.5, 0.5, -0.5)
    pulses = square + np.where((277.0 * time) % 1.0 < 0.25, 0.3, -0.3)
    between = np.repeat(np.where((np.arange(3 * RATE_HZ // 4) // 30) % 2, 0.5, -0.5), 4)  # joined by straight lines
    ramped = np.convolve(between, np.full(2, 0.5), mode="same")
    staircase = np.round(7.5 * np.abs(2.0 * ((110.0 * time) % 1.0) - 1.0)) / 10.0
    for wave in (square, pulses, ramped, staircase):
        assert health_of(signals.stereo(wave)).clipped_runs == 0


def test_peaks_held_down_smoothly_are_no_clipping() -> None:
    samples = loud_song()
    size = np.abs(samples).max(axis=0)
    reach = np.lib.stride_tricks.sliding_window_view(np.pad(size, 240), 481).max(axis=1)
    smooth = np.convolve(np.minimum(0.5 / np.maximum(reach, 0.5), 1.0), np.hanning(241) / np.hanning(241).sum(), mode="same")
    limited = np.asarray(samples * smooth, np.float32)
    assert np.abs(limited).max() < 0.56
    assert health_of(limited).clipped_runs == 0


def test_one_channel_clipping_is_enough_and_gain_keeps_the_count() -> None:
    samples = np.asarray(0.3 * signals.pink(4.0, rms_dbfs=-6.0), np.float32)
    samples[1] = np.clip(2.0 * samples[1], -0.3, 0.3)
    health = health_of(samples)
    assert health.clipped_runs > 20
    assert health_of(np.ascontiguousarray(samples[::-1])).clipped_runs == health.clipped_runs
