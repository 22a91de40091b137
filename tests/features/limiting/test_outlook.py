"""Limiter outlook: what it must say about songs whose answer is known in kind."""

from dataclasses import astuple

import numpy as np
import pytest
from scipy.signal import butter, lfilter, sosfilt

from features.limiting.distortion import MaskedMusic
from features.limiting.drive import STEPS_PER_S, Steps
from features.limiting.sweep import crossing, density_drive, drive_to
from features.processors.dynamics.limiter import FAST, GENTLE, gain_curve, true_peak_envelope
from features.records.outlook import DrivePoint, Outlook
from features.sound.signal import Samples
from tests import signals
from tests.sounds import limiter_songs

RATE = signals.RATE_HZ
DRIVE_DB = 5.0
READINGS = ("lufs", "gain_reduction_p95_db", "distortion_nmr_db", "pumping_db", "hit_loss_db")


@pytest.fixture(scope="module")
def ordinary() -> Outlook:
    return limiter_songs.outlook(limiter_songs.song())


@pytest.mark.parametrize("block", [1, 37, 4096, 100000])
def test_blocks_of_any_size_give_the_same_trace(block: int) -> None:
    samples = limiter_songs.song(0.3 if block == 1 else 2.0, 44100)
    whole, split = limiter_songs.trace(samples, 44100), limiter_songs.trace(samples, 44100, block)
    assert np.array_equal(whole.steps.envelope, split.steps.envelope)
    assert np.array_equal(whole.steps.energy, split.steps.energy)


@pytest.mark.parametrize("rate_hz", [8000, 11025, 44100, 192000])
def test_trace_has_a_step_per_millisecond(rate_hz: int) -> None:
    samples = signals.sine(997.0, 1.0, rate_hz)
    steps = limiter_songs.trace(samples, rate_hz).steps
    assert abs(steps.envelope.size - STEPS_PER_S) <= 1
    assert steps.envelope.size == steps.energy.size
    assert steps.envelope[100:900].max() == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("name", READINGS)
def test_readings_grow_with_the_drive(ordinary: Outlook, name: str) -> None:
    for curve in (ordinary.curve, ordinary.fast_curve):
        values = np.array([getattr(point, name) for point in curve])
        assert len(values) >= 4
        assert (np.diff(values) > -0.1).all()
        assert values[-1] > values[0]


def test_undriven_song_is_untouched(ordinary: Outlook) -> None:
    first = ordinary.curve[0]
    assert (first.drive_db, first.gain_reduction_p95_db, first.pumping_db, first.hit_loss_db) == (0.0, 0.0, 0.0, 0.0)
    assert first.distortion_nmr_db <= -60.0


def test_clean_point_lies_on_the_curve_where_its_limit_is_met(ordinary: Outlook) -> None:
    point = next(point for point in ordinary.curve if point.drive_db == ordinary.drive_db)
    assert point.lufs == ordinary.clean_lufs
    met = {"distortion": point.distortion_nmr_db - 1.5, "pumping": 10 * (point.pumping_db - 1.0), "hits": 3 * (point.hit_loss_db - 3.0)}
    assert max(met.values()) < 0.6
    if ordinary.stopped_by in met:
        assert abs(met[ordinary.stopped_by]) < 0.6


def test_level_of_the_mix_does_not_matter(ordinary: Outlook) -> None:
    softer = limiter_songs.outlook(limiter_songs.song() * np.float32(0.2))
    assert softer.clean_lufs == pytest.approx(ordinary.clean_lufs, abs=0.02)
    assert softer.drive_db == pytest.approx(ordinary.drive_db, abs=0.05)


def test_channels_may_be_swapped(ordinary: Outlook) -> None:
    assert limiter_songs.outlook(limiter_songs.song()[::-1].copy()).clean_lufs == pytest.approx(ordinary.clean_lufs, abs=1e-3)


def test_asking_twice_gives_the_same_answer(ordinary: Outlook) -> None:
    assert limiter_songs.outlook(limiter_songs.song()) == ordinary


@pytest.mark.parametrize("rate_hz", [44100, 96000])
def test_rates_agree(ordinary: Outlook, rate_hz: int) -> None:
    other = limiter_songs.outlook(limiter_songs.song(rate_hz=rate_hz), rate_hz)
    assert other.clean_lufs == pytest.approx(ordinary.clean_lufs, abs=0.5)  # the noises of the song differ from rate to rate
    assert other.stopped_by == ordinary.stopped_by


def test_ceiling_shifts_the_loudness_and_nothing_else(ordinary: Outlook) -> None:
    lower = limiter_songs.outlook(limiter_songs.song(), ceiling_dbtp=-3.0)
    assert ordinary.clean_lufs is not None
    assert lower.clean_lufs == pytest.approx(ordinary.clean_lufs - 2.0, abs=1e-3)
    assert lower.drive_db == pytest.approx(ordinary.drive_db, abs=1e-3)


def bell(samples: Samples, frequency_hz: float, gain_db: float, q: float) -> Samples:
    """Peaking filter, written out here so that it is independent of ours."""
    w, a = 2 * np.pi * frequency_hz / RATE, 10 ** (gain_db / 40)
    alpha = np.sin(w) / (2 * q)
    b, c = [1 + alpha * a, -2 * np.cos(w), 1 - alpha * a], [1 + alpha / a, -2 * np.cos(w), 1 - alpha / a]
    return lfilter(b, c, samples.astype(float), axis=1).astype(np.float32)


def body_lufs(samples: Samples, outlook: Outlook) -> float:
    """Loudness, at the clean point, of what lies above 120 Hz."""
    assert outlook.drive_db is not None
    steps = limiter_songs.trace(samples).steps
    peak = float(steps.envelope.max())
    high = sosfilt(butter(2, 120.0, "high", fs=RATE, output="sos"), samples.astype(float)).astype(np.float32)
    body = Steps(steps.envelope, limiter_songs.trace(high).steps.energy).integrated_lufs(
        steps.gain(peak * signals.amplitude(-outlook.drive_db), GENTLE)
    )
    assert body is not None
    return body + outlook.drive_db - 1.0 - 20 * float(np.log10(peak))


@pytest.mark.parametrize("bass_db", [-6.0, -3.0])
def test_too_much_sub_costs_everything_else_its_clean_loudness(bass_db: float) -> None:
    """Sub itself counts as loudness (BS.1770 takes some 5 dB off at 45 Hz, 3 at 60), so what it costs is read on the rest."""
    samples = limiter_songs.song(bass_db=bass_db)
    boomy = bell(samples, 45.0, 6.0, 1.0)
    assert body_lufs(boomy, limiter_songs.outlook(boomy)) < body_lufs(samples, limiter_songs.outlook(samples)) - 0.3


def test_a_few_stray_peaks_cost_clean_loudness() -> None:
    samples = limiter_songs.song()
    strays = signals.placed(signals.kick_wave(RATE, 2.4), (3.0, 7.0), 12.0)
    plain, spiky = limiter_songs.outlook(samples), limiter_songs.outlook(samples + signals.stereo(strays))
    assert plain.curve[0].lufs > spiky.curve[0].lufs + 3.0
    assert spiky.drive_db is not None
    assert plain.drive_db is not None
    assert spiky.drive_db > plain.drive_db + 1.0  # two peaks may be taken down far before anything is heard


def loudness_after(samples: Samples, drive_db: float) -> float:
    lufs = limiter_songs.trace(samples).steps.integrated_lufs()
    assert lufs is not None
    return lufs + drive_db


def test_fast_and_clipped_are_worse_than_gentle_at_the_same_loudness() -> None:
    samples = limiter_songs.song(8.0)
    envelope = true_peak_envelope(samples)
    peak = float(envelope.max())
    music = MaskedMusic(samples, RATE, 0.01)
    gentle = gain_curve(envelope, peak * signals.amplitude(-DRIVE_DB), RATE, GENTLE)
    wanted = loudness_after(samples * gentle, DRIVE_DB)
    ones = np.ones_like(gentle)

    def driven_to(limited: str) -> float:
        low, high = 0.0, DRIVE_DB
        for _ in range(10):
            drive = (low + high) / 2
            top = peak * signals.amplitude(-drive)
            gain = gain_curve(envelope, top, RATE, FAST) if limited == "fast" else ones
            error = np.clip(samples, -top, top) - samples if limited == "clip" else np.zeros_like(samples)
            low, high = (drive, high) if loudness_after(samples * gain + error, drive) < wanted else (low, drive)
        return music.distortion_db(gain, error)

    fast, clipped = driven_to("fast"), driven_to("clip")
    assert music.distortion_db(gentle) < fast - 0.1
    assert fast < clipped - 3.0


def test_fast_setting_pumps_less_and_distorts_more(ordinary: Outlook) -> None:
    def at(curve: tuple[DrivePoint, ...], name: str, lufs: float) -> float:
        return float(np.interp(lufs, [point.lufs for point in curve], [getattr(point, name) for point in curve]))

    assert ordinary.clean_lufs is not None
    assert at(ordinary.fast_curve, "pumping_db", ordinary.clean_lufs) < at(ordinary.curve, "pumping_db", ordinary.clean_lufs)
    gentle, fast = (at(curve, "distortion_nmr_db", ordinary.clean_lufs) for curve in (ordinary.curve, ordinary.fast_curve))
    assert fast > gentle


def test_held_tones_are_stopped_by_density() -> None:
    """A tone that sits at the ceiling gains nothing from drive: the slope is 0 from the start."""
    outlook = limiter_songs.outlook(signals.sine(440.0, 5.0, peak_dbfs=-3.0), hits=False)
    assert outlook.stopped_by == "density"
    assert outlook.drive_db == pytest.approx(0.0, abs=0.51)


def test_target_below_the_undriven_song_is_a_negative_drive() -> None:
    outlook = limiter_songs.outlook(signals.white(5.0, rms_dbfs=-10.0), target_lufs=-20.0)
    assert outlook.reaches_target is True
    assert outlook.drive_to_target_db is not None
    assert outlook.drive_to_target_db == pytest.approx(-20.0 - outlook.curve[0].lufs, abs=1e-6)
    assert outlook.drive_to_target_db < 0.0
    assert outlook.peak_share == ()
    assert outlook.hardest == ()


def test_target_out_of_reach_is_none_with_its_reason() -> None:
    outlook = limiter_songs.outlook(limiter_songs.song(6.0), target_lufs=-1.0)
    assert outlook.reaches_target is False
    assert outlook.drive_to_target_db is None
    assert [absence.field for absence in outlook.absent] == ["drive_to_target_db"]
    assert outlook.peak_share


def test_kick_heavy_song_says_so() -> None:
    outlook = limiter_songs.outlook(limiter_songs.song(kick=2.0, bass_db=-30.0), target_lufs=-12.0)
    low = sum(share.share for share in outlook.peak_share if share.high_hz <= 120.0)
    assert low > 0.5
    assert sum(share.share for share in outlook.peak_share) == pytest.approx(1.0)
    assert outlook.hardest
    assert outlook.hardest[0].value > 0.1


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("frames", [0, 1, 5000])
def test_too_short_is_absent_with_its_reason(channels: int, frames: int) -> None:
    outlook = limiter_songs.outlook(np.full((channels, frames), 0.5, np.float32))
    assert outlook.clean_lufs is None
    assert outlook.stopped_by == "none"
    assert all("shorter than 400 ms" in absence.reason for absence in outlook.absent)
    assert {absence.field for absence in outlook.absent} == {name for name in Outlook.__slots__ if getattr(outlook, name) is None}


def test_silence_is_absent_with_its_reason() -> None:
    outlook = limiter_songs.outlook(signals.silence(3.0))
    assert outlook.clean_lufs is None
    assert all("silent" in absence.reason for absence in outlook.absent)


def test_a_second_of_music_is_enough() -> None:
    assert np.isfinite(np.array(astuple(limiter_songs.outlook(limiter_songs.song(1.0)).curve[-1]))).all()


def test_mono_song_reads_like_its_stereo_copy() -> None:
    samples = limiter_songs.song()[:1]
    outlook, two = limiter_songs.outlook(samples), limiter_songs.outlook(np.repeat(samples, 2, axis=0))
    assert outlook.clean_lufs is not None
    assert two.clean_lufs == pytest.approx(outlook.clean_lufs + 3.01, abs=0.05)  # two equal channels are 3.01 LU louder (BS.1770)
    assert outlook.stopped_by == two.stopped_by


def test_density_ignores_a_sag_on_the_way() -> None:
    drives = np.arange(7.0)
    sagging = np.array([0.0, 0.4, 0.8, 1.6, 2.4, 2.6, 2.7])  # slope .4, .4, .8, .8, .2, .1
    drive_db = density_drive(drives, sagging)
    assert drive_db is not None
    assert 3.5 < drive_db < 4.5
    assert density_drive(drives, drives * 0.9) is None


def test_crossing_interpolates_and_does_not_take_a_dip_for_relief() -> None:
    drives = np.arange(5.0)
    assert crossing(drives, np.array([0.0, 0.5, 0.4, 1.5, 2.5]), 1.0) == pytest.approx(2.5 + 0.5 / 22, abs=0.05)
    assert crossing(drives, np.zeros(5), 1.0) is None
    assert crossing(drives, np.array([2.0, 2.0, 2.0, 2.0, 2.0]), 1.0) == 0.0


def test_drive_to_a_loudness() -> None:
    loudness = -20.0 + np.minimum(np.arange(19.0), 10.0)
    assert drive_to(loudness, -15.5) == pytest.approx(4.5)
    assert drive_to(loudness, -22.0) == pytest.approx(-2.0)
    assert drive_to(loudness, -5.0) is None
