"""Stereo readings against closed forms: definitions are standard practice, values follow from them by hand."""

import numpy as np
import pytest

from features.stereo.delay import fixed_delay_ms
from features.stereo.stereo import fold_loss_db
from tests import signals
from tests.sounds.meters import spectrogram_of, stereo_of


@pytest.mark.parametrize("correlation", [1.0, 0.5, 0.0, -0.5, -0.9])
def test_pink_noise_of_known_correlation(correlation: float) -> None:
    stereo = stereo_of(signals.pink(20.0, correlation=correlation))
    # Equal-power channels: the fold keeps (1 + r) / 2; side share (1 - r) / 2.
    expected_db = -10.0 * np.log10((1.0 + correlation) / 2.0)
    assert stereo.correlation == pytest.approx(correlation, abs=1e-3)
    assert stereo.side_share == pytest.approx((1.0 - correlation) / 2.0, abs=1e-3)
    assert stereo.mono_loss_db == pytest.approx(expected_db, abs=0.15)
    assert stereo.balance_db == pytest.approx(0.0, abs=0.15)


@pytest.mark.parametrize(("correlation", "loss_db"), [(1.0, 0.0), (0.5, 1.249), (0.0, 3.0103), (-0.5, 6.021), (-0.9, 13.010), (-1.0, 60.0)])
def test_fold_loss_of_equal_power_channels(correlation: float, loss_db: float) -> None:
    assert fold_loss_db(np.array([correlation]))[0] == pytest.approx(loss_db, abs=5e-4)  # -1 would be infinite; readings stop at 60 dB


@pytest.mark.parametrize("degrees", [0.0, 45.0, 60.0, 90.0, 120.0])
def test_correlation_of_a_sine_is_the_cosine_of_its_phase(degrees: float) -> None:
    left = signals.sine_wave(1000.0, 5.0, peak_dbfs=-6.0)
    right = signals.sine_wave(1000.0, 5.0, peak_dbfs=-6.0, phase_degrees=degrees)
    assert stereo_of(signals.stereo(left, right)).correlation == pytest.approx(np.cos(np.deg2rad(degrees)), abs=1e-3)


@pytest.mark.parametrize("delay_ms", [0.1, 0.25, 1.0])
def test_correlation_of_a_late_sine(delay_ms: float) -> None:
    late = signals.sine_wave(1000.0, 5.0, phase_degrees=-360.0 * delay_ms)
    stereo = stereo_of(signals.stereo(signals.sine_wave(1000.0, 5.0), late))
    assert stereo.correlation == pytest.approx(np.cos(2 * np.pi * delay_ms), abs=1e-3)


@pytest.mark.parametrize("degrees", [10.0, 30.0, 45.0, 70.0])
def test_constant_power_pan(degrees: float) -> None:
    wave = signals.pink_wave(10.0, rms_dbfs=-18.0)
    left, right = np.cos(np.deg2rad(degrees)), np.sin(np.deg2rad(degrees))
    stereo = stereo_of(signals.stereo(left * wave, right * wave))
    assert stereo.balance_db == pytest.approx(20.0 * np.log10(left / right), abs=0.01)
    assert stereo.correlation == pytest.approx(1.0, abs=1e-6)
    # rho' = 2 gL gR for a constant-power pan, so the fold keeps (1 + sin 2 theta) / 2
    assert stereo.mono_loss_db == pytest.approx(-10.0 * np.log10((1.0 + np.sin(2 * np.deg2rad(degrees))) / 2.0), abs=0.01)


def test_mid_and_side_of_unlike_energy() -> None:
    mid, side = signals.white_wave(20.0, rms_dbfs=-20.0, seed=1), signals.white_wave(20.0, rms_dbfs=-26.0, seed=2)
    stereo = stereo_of(signals.stereo(mid + side, mid - side))
    share = 10.0**-0.6  # side energy over mid energy
    assert stereo.correlation == pytest.approx((1.0 - share) / (1.0 + share), abs=0.01)
    levels = [side_db for side_db in stereo.band_side_db if side_db is not None]
    assert np.median(levels) == pytest.approx(-6.0, abs=0.3)


@pytest.mark.parametrize("samples_late", [-1200, -144, -24, 5, 48, 576, 1400])
def test_a_late_channel_is_timed(samples_late: int) -> None:
    wave = signals.pink_wave(12.0, rms_dbfs=-18.0)
    left, right = (wave, np.roll(wave, samples_late))
    delay_ms, _ = fixed_delay_ms(spectrogram_of(signals.stereo(left, right)))
    assert delay_ms == pytest.approx(samples_late / 48.0, abs=0.01)  # positive: right is late
