"""Stray peaks, ordinary peaks, and peaks piled up at a ceiling."""

import numpy as np
import pytest
from scipy.signal import resample_poly

from features.loudness.peaks import cluster_share, measure_peaks
from features.records.base import Absence
from features.sound.signal import Samples
from tests import signals
from tests.sounds.meters import level_of

RATE_HZ = signals.RATE_HZ


def played(
    duration_s: float, strays: tuple[int, ...] = (), stray_db: float = 6.0, variation_db: float = 0.0, tempo_bpm: float = 120.0
) -> Samples:
    """Kicks on every beat over a quiet chord; those with the numbers in ``strays`` are louder."""
    wave = 0.02 * signals.chord_wave(duration_s)
    random = np.random.default_rng(4)
    kick = signals.kick_wave(peak=0.25)
    for number, time_s in enumerate(signals.beat_times(duration_s, tempo_bpm)):
        level_db = (stray_db if number in strays else 0.0) + variation_db * float(random.uniform(-1.0, 1.0))
        start = round(time_s * RATE_HZ)
        part = kick[: len(wave) - start] * signals.amplitude(level_db)
        wave[start : start + len(part)] += part
    return signals.stereo(wave)


def test_equal_hits_leave_no_stray_peak() -> None:
    peaks = measure_peaks(level_of(played(60.0)))
    assert peaks.stray == ()
    assert peaks.ordinary_dbfs == pytest.approx(20 * np.log10(0.27), abs=0.7)
    assert peaks.height_db == pytest.approx(0.0, abs=0.7)


@pytest.mark.parametrize("variation_db", [0.0, 0.8])
def test_eight_louder_hits_a_minute_are_exactly_the_strays(variation_db: float) -> None:
    planted = tuple(range(7, 240, 15))  # 16 in two minutes
    peaks = measure_peaks(level_of(played(120.0, planted, variation_db=variation_db)))
    assert sorted(round(moment.start_s / 0.5) for moment in peaks.stray) == list(planted)
    assert peaks.height_db == pytest.approx(6.0, abs=1.0)
    assert [moment.value for moment in peaks.stray] == sorted((moment.value for moment in peaks.stray), reverse=True)
    assert all(moment.value == pytest.approx(6.0, abs=1.9) for moment in peaks.stray)


def test_what_lowering_those_that_stand_apart_wins() -> None:
    apart = measure_peaks(level_of(played(120.0, (31, 95, 160), stray_db=3.5)))
    assert apart.win_db == pytest.approx(3.5, abs=0.8)
    ordinary = measure_peaks(level_of(played(120.0, variation_db=3.0)))  # evenly spread: each follows closely on the last
    assert ordinary.win_db == pytest.approx(0.0)


def test_an_accent_on_every_other_beat_is_ordinary() -> None:
    peaks = measure_peaks(level_of(played(60.0, tuple(range(1, 120, 2)))))
    assert peaks.stray == ()
    assert peaks.height_db == pytest.approx(0.0, abs=0.7)


def test_a_short_loud_chorus_is_no_row_of_strays() -> None:
    verse = played(100.0)
    chorus = 2.0 * played(10.0)
    peaks = measure_peaks(level_of(np.concatenate([verse, chorus, verse], axis=1)))
    assert peaks.stray == ()


def test_swap_and_gain() -> None:
    samples = played(60.0, (11, 50))
    peaks = measure_peaks(level_of(samples))
    quieter = measure_peaks(level_of(np.ascontiguousarray(0.5 * samples[::-1])))
    assert peaks.ordinary_dbfs is not None
    assert quieter.ordinary_dbfs == pytest.approx(peaks.ordinary_dbfs - 6.0206, abs=1e-3)
    assert quieter.height_db == pytest.approx(peaks.height_db, abs=1e-3)


def test_peaks_pile_up_in_a_clipped_song_and_not_in_a_natural_one() -> None:
    natural = signals.drums(30.0) + signals.pink(30.0, rms_dbfs=-24.0)
    clipped = np.clip(4.0 * natural, -0.9, 0.9)
    low, high = measure_peaks(level_of(natural)).pileup_share, measure_peaks(level_of(clipped)).pileup_share
    assert low is not None
    assert high is not None
    assert low < 0.05
    assert high > 0.3


@pytest.mark.parametrize("rate_hz", [44100, 88200, 96000])
def test_what_was_clipped_clusters_after_a_conversion_to_48_khz(rate_hz: int) -> None:
    """Where a flat top is left no more, as nothing stands within 0.3 dB of the highest overshoot but a few."""
    time_s = np.arange(20 * rate_hz) / rate_hz
    swell = 1.0 + 0.8 * np.sin(2 * np.pi * 0.37 * time_s) + 0.1 * np.sin(2 * np.pi * 3.1 * time_s)
    natural = signals.stereo(0.2 * signals.chord_wave(20.0, rate_hz) * swell) + 0.3 * signals.drums(20.0, rate_hz)
    common = int(np.gcd(rate_hz, 48000))

    def converted(samples: np.ndarray) -> float:
        done = resample_poly(samples, 48000 // common, rate_hz // common, axis=1).astype(np.float32)
        share = measure_peaks(level_of(np.ascontiguousarray(done), 48000)).cluster_share
        assert share is not None
        return share

    assert converted(natural) < 0.04
    assert converted(np.clip(4.0 * natural, -0.5, 0.5)) > 0.5


def test_peaks_at_every_height_are_no_cluster() -> None:
    assert cluster_share(np.geomspace(0.05, 1.0, 1000)) == 0.0
    assert cluster_share(np.full(50, 0.5)) == 0.0  # too few to tell


def test_silence_has_no_peaks() -> None:
    for samples in (signals.silence(2.0), signals.silence(0.0, channels=1)):
        peaks = measure_peaks(level_of(samples))
        assert peaks.ordinary_dbfs is None
        assert peaks.stray == ()
        assert Absence("ordinary_peak_dbfs", "the file is silent") in peaks.absent


def test_one_sample_is_its_own_peak() -> None:
    peaks = measure_peaks(level_of(np.full((1, 1), 0.5, np.float32)))
    assert peaks.ordinary_dbfs == pytest.approx(-6.02, abs=0.01)
    assert peaks.height_db == pytest.approx(0.0, abs=1e-6)
