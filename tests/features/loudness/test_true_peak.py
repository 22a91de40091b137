"""The wave between the samples, against ideal interpolation."""

import numpy as np
import pytest
from scipy import signal as scipy_signal

from features.loudness.level import LevelMeter
from features.loudness.true_peak import AHEAD, BACK, SPAN, Interpolator, interpolator, oversampling, step_peaks, true_peaks
from features.sound.signal import Samples
from tests import signals

NO_SKIP = 1e30


def db(value: float) -> float:
    return float(20 * np.log10(value))


def peaks_per_step(samples: Samples, rate_hz: int) -> Samples:
    meter = LevelMeter(rate_hz, samples.shape[0])
    meter.push(samples)
    return meter.finish().true_peak


def ideal_peak(wave: Samples) -> float:
    """Peak of the band-limited wave through the samples, by zero-padding its spectrum to 32 times the rate."""
    return float(np.max(np.abs(scipy_signal.resample(wave.astype(np.float64), 32 * len(wave)))))


@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000, 192000])
@pytest.mark.parametrize(("part", "phase", "gap_db"), [(4, 45.0, 3.0103), (6, 60.0, 1.2494), (8, 67.5, 0.6877)])
def test_sines_that_hide_their_tops(part: int, phase: float, gap_db: float, rate_hz: int) -> None:
    """The samples of these sines miss the top by the closed-form gap (BS.1770-5, Annex 2 and EBU Tech 3341, 16 to 18).

    Where fewer values are looked at (192 kHz: two per sample), the top may be missed by the amount the standard gives.
    """
    wave = signals.fade(0.5 * signals.sine_wave(rate_hz / part, 0.3, rate_hz, phase_degrees=phase), rate_hz, 0.02)
    sample_peak = float(np.abs(wave).max())
    missed_db = -db(float(np.cos(np.pi / part / oversampling(rate_hz)))) if oversampling(rate_hz) < 4 else 0.0
    assert db(0.5) - db(sample_peak) == pytest.approx(gap_db, abs=0.001)
    peak_dbtp = db(true_peaks(signals.mono(wave), rate_hz)[0])
    assert db(0.5) - missed_db - 0.03 <= peak_dbtp <= db(0.5) + 0.03


@pytest.mark.parametrize("share", [0.05, 0.25, 0.35, 0.40, 0.45])
@pytest.mark.parametrize("rate_hz", [44100, 96000])
def test_sines_up_to_0_45_of_the_rate(share: float, rate_hz: int) -> None:
    """Under-read by no more than ``cos(pi f / n)`` allows (Attachment 1 to Annex 2; 0.136 dB for 8 at 0.45), plus ripple."""
    most = -db(float(np.cos(np.pi * share / oversampling(rate_hz))))
    for phase in np.linspace(0, 180, 13):
        wave = signals.fade(signals.sine_wave(share * rate_hz, 0.05, rate_hz, phase_degrees=float(phase)), rate_hz, 0.01)
        peak_dbtp = db(true_peaks(signals.mono(wave), rate_hz)[0])
        assert -most - 0.03 <= peak_dbtp <= 0.03


def test_noise_against_ideal_interpolation() -> None:
    for seed in range(4):
        wave = signals.fade(signals.pink_wave(0.5, seed=seed, high_hz=20000.0, db_per_octave=0.0), 48000, 0.05).astype(np.float32)
        ideal = ideal_peak(wave)
        assert db(true_peaks(wave[None], 48000)[0]) == pytest.approx(db(ideal), abs=0.1)


def clipped_noise(rate_hz: int) -> Samples:
    clipped: Samples = np.clip(3.0 * signals.pink(3, rate_hz, rms_dbfs=-12.0), -0.9, 0.9).astype(np.float32)
    return clipped


@pytest.mark.parametrize("sound", ["noise", "drums", "clipped", "low tone", "silence", "clicks"])
def test_skipping_changes_nothing(sound: str) -> None:
    samples = {
        "noise": signals.white(2), "drums": signals.drums(3), "clipped": clipped_noise(48000), "low tone": signals.sine(40, 2),
        "silence": signals.silence(1), "clicks": signals.clicks([0.1, 0.5013, 0.9], 1),
    }[sound]  # fmt: skip
    tool = interpolator(8)
    edges = np.arange(BACK, samples.shape[1] - AHEAD - SPAN, 480)
    for wave in samples:
        fast = step_peaks(wave, edges, tool.phases, tool.gain, tool.slope_gain)[1]
        full = step_peaks(wave, edges, tool.phases, NO_SKIP, NO_SKIP)[1]
        np.testing.assert_array_equal(fast, full)


@pytest.mark.parametrize("factor", [2, 4, 8])
def test_bounds_hold_for_the_worst_waves(factor: int) -> None:
    """The wave that follows the signs of a phase's taps reaches the gain; no smooth wave passes its slope."""
    tool: Interpolator = interpolator(factor)
    for row in tool.phases:
        worst = np.sign(row)
        assert abs(float(row @ worst)) <= tool.gain
        for seed in range(20):
            walk = np.cumsum(np.random.default_rng(seed).choice([-0.1, 0.1], len(row)))
            near = max(abs(walk[BACK]), abs(walk[BACK + 1]))
            assert abs(float(row @ walk)) <= near + tool.slope_gain * 0.1
    assert tool.gain == pytest.approx(max(np.abs(row).sum() for row in tool.phases), rel=1e-4)


@pytest.mark.parametrize("rate_hz", [8000, 44100, 96000, 192000])
def test_never_below_the_sample_peak(rate_hz: int) -> None:
    samples = clipped_noise(rate_hz)
    meter = LevelMeter(rate_hz, 2)
    meter.push(samples)
    trace = meter.finish()
    assert np.all(trace.true_peak >= trace.sample_peak)
    assert np.any(trace.true_peak > trace.sample_peak)


@pytest.mark.parametrize("place", [0, 1, 31, 32, 479, 480, 481, 4799, 9590, 9599])
def test_a_peak_is_found_wherever_it_lies(place: int) -> None:
    """Two equal samples side by side: halfway between them the wave stands higher, also across steps and at both ends."""
    samples = np.zeros((1, 9600), np.float32)
    samples[0, place : place + 2] = 0.5
    expected = 2 * 0.5 * np.sinc(0.5) if place + 1 < 9600 else 0.5
    highest = peaks_per_step(samples, 48000)[0]
    assert highest.max() == pytest.approx(expected, abs=0.01)
    assert int(np.argmax(highest)) == place // 480


def test_a_cut_start_and_end_may_peak_outside_the_file() -> None:
    """Four samples of alternating sign: the wave stands highest just before the first and just after the last of them."""
    samples = np.array([[0.8, -0.8, 0.8, -0.8]], np.float32)
    ideal = ideal_peak(np.pad(samples[0], 2000))
    assert ideal > 0.84
    assert float(peaks_per_step(samples, 48000).max()) == pytest.approx(ideal, rel=0.02)


def test_meter_and_function_agree() -> None:
    samples = signals.drums(2)
    assert true_peaks(samples, 48000) == pytest.approx(peaks_per_step(samples, 48000).max(axis=1))
