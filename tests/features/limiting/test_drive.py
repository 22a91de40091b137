"""A drive worked out per millisecond, against really limiting the sound."""

import numpy as np
import pytest

from features.limiting.drive import Steps, hardest_moments, hit_loss_db, psr_db, pumping_db
from features.processors.dynamics.limiter import FAST, GENTLE, Setting, gain_curve, limit, true_peak_envelope
from features.sound.signal import Samples, Signal
from tests import signals
from tests.sounds import limiter_songs

RATE = signals.RATE_HZ


@pytest.mark.parametrize("setting", [GENTLE, FAST], ids=["gentle", "fast"])
@pytest.mark.parametrize("rate_hz", [44100, 48000])
@pytest.mark.parametrize("drive_db", [3.0, 6.0, 10.0])
def test_loudness_agrees_with_really_limiting(setting: Setting, rate_hz: int, drive_db: float) -> None:
    samples = limiter_songs.song(8.0, rate_hz)
    steps = limiter_songs.trace(samples, rate_hz).steps
    ceiling = float(steps.envelope.max()) * signals.amplitude(-drive_db)
    gain = gain_curve(true_peak_envelope(samples), ceiling, rate_hz, setting)
    really = limiter_songs.trace(samples * gain, rate_hz).steps.integrated_lufs()
    assert gain.min() < signals.amplitude(-drive_db + 0.5)
    assert steps.integrated_lufs(steps.gain(ceiling, setting)) == pytest.approx(really, abs=0.1)  # the demand of the design


def test_a_limited_song_has_the_loudness_that_was_foretold() -> None:
    samples = limiter_songs.song(8.0)
    steps = limiter_songs.trace(samples).steps
    peak_db = 20 * np.log10(float(steps.envelope.max()))
    limited = limit(Signal(samples, RATE), 8.0 - 1.0 - peak_db, -1.0)
    foretold = steps.integrated_lufs(steps.gain(float(steps.envelope.max()) * signals.amplitude(-8.0), GENTLE))
    assert foretold is not None
    assert limiter_songs.trace(limited.signal.samples).steps.integrated_lufs() == pytest.approx(foretold + 8.0 - 1.0 - peak_db, abs=0.1)


def test_integrated_loudness_of_a_tone() -> None:
    """Stereo 997 Hz at -20 dBFS reads -20 LUFS (BS.1770: 0 dBFS in one channel -3.01, both 0)."""
    steps = limiter_songs.trace(signals.sine(997.0, 3.0, peak_dbfs=-20.0)).steps
    assert steps.integrated_lufs() == pytest.approx(-20.0, abs=0.05)


def swinging(frequency_hz: float, depth_db: float) -> np.ndarray:
    swing = 0.5 * depth_db * (1 - np.cos(2 * np.pi * frequency_hz * np.arange(20000) / 1000))
    return (10 ** (-swing / 20)).astype(np.float32)


def test_pumping_is_the_rms_of_the_swing() -> None:
    """A sine of amplitude a dB has an RMS of a / sqrt 2."""
    assert pumping_db(swinging(5.0, 4.0)) == pytest.approx(2.0 / np.sqrt(2), abs=0.05)


def test_pumping_leaves_out_slower_and_faster_movement() -> None:
    assert pumping_db(swinging(0.1, 4.0)) < 0.1
    assert pumping_db(swinging(60.0, 4.0)) < 0.1
    assert pumping_db(np.full(5000, 0.5, np.float32)) < 1e-4
    assert pumping_db(np.zeros(0, np.float32)) == 0.0


def hits_every_half_second() -> tuple[Samples, np.ndarray]:
    energy = np.full(10000, 0.01, np.float32)
    at = np.arange(500, 9500, 500)
    for hit in at:
        energy[hit : hit + 30] = 1.0
    return energy, at.astype(np.intp)


def test_hit_loss_is_the_gain_at_the_hit_against_the_gain_before() -> None:
    energy, at = hits_every_half_second()
    gain = np.ones(10000, np.float32)
    for hit in at:
        gain[hit : hit + 30] = signals.amplitude(-4.0)
    assert hit_loss_db(energy, gain, at) == pytest.approx(4.0, abs=0.01)  # by construction
    assert hit_loss_db(energy, np.full(10000, 0.3, np.float32), at) == pytest.approx(0.0, abs=1e-3)
    assert hit_loss_db(energy, gain, np.zeros(0, np.intp)) == 0.0


def test_light_hits_do_not_hide_what_the_strong_ones_lose() -> None:
    energy, at = hits_every_half_second()
    light = at + 250
    for hit in light:
        energy[hit : hit + 30] = 0.05
    gain = np.ones(10000, np.float32)
    for hit in at:
        gain[hit : hit + 30] = signals.amplitude(-4.0)
    both = np.sort(np.concatenate((at, light, light + 60)))
    assert hit_loss_db(energy, gain, both) == pytest.approx(4.0, abs=0.01)


def test_psr_of_a_tone() -> None:
    """A stereo 997 Hz tone: peak 0 dB above its LUFS reading, plus nothing else."""
    steps = limiter_songs.trace(signals.sine(997.0, 6.0, peak_dbfs=-6.0)).steps
    assert psr_db(steps, np.ones(steps.energy.size, np.float32)) == pytest.approx(0.0, abs=0.1)
    assert psr_db(Steps(steps.envelope[:0], steps.energy[:0]), np.zeros(0, np.float32)) == 0.0


def test_hardest_moments_are_where_the_gain_is_lowest() -> None:
    gain = np.ones(60000, np.float32)
    gain[20000:23000] = signals.amplitude(-6.0)
    gain[40000:43000] = signals.amplitude(-3.0)
    moments = hardest_moments(gain)
    assert [moment.start_s for moment in moments[:1]] == [20.0]
    assert moments[0].value == pytest.approx(6.0, abs=0.01)
    assert any(moment.start_s == 40.0 and moment.value == pytest.approx(3.0, abs=0.01) for moment in moments)
    assert hardest_moments(np.ones(5000, np.float32)) == ()
    assert hardest_moments(np.zeros(0, np.float32)) == ()
