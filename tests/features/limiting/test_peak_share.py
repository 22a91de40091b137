"""What peaks are made of."""

import numpy as np
import pytest
from scipy.signal import butter, sosfiltfilt

from features.limiting.peak_share import EDGES_HZ, peak_shares
from tests import signals

RATE = signals.RATE_HZ


def shares(samples: np.ndarray, ceiling: float, rate_hz: int = RATE) -> dict[float, float]:
    return {share.low_hz: share.share for share in peak_shares(samples, rate_hz, ceiling)}


def test_two_tones_share_their_common_peaks_by_their_amplitudes() -> None:
    """At the common peak of 50 Hz (0.6) and 800 Hz (0.3) the shares are 2/3 and 1/3, by construction."""
    wave = 0.6 * np.cos(2 * np.pi * 50 * np.arange(4 * RATE) / RATE) + 0.3 * np.cos(2 * np.pi * 800 * np.arange(4 * RATE) / RATE)
    by_band = shares(signals.mono(wave), 0.895)
    assert by_band[20.0] == pytest.approx(2 / 3, abs=0.02)
    assert by_band[500.0] == pytest.approx(1 / 3, abs=0.02)
    assert sum(by_band.values()) == pytest.approx(1.0)


def test_agrees_with_filtering_the_band_out() -> None:
    samples = signals.drums(6.0) + signals.pink(6.0, rms_dbfs=-25.0)
    ceiling = float(np.abs(samples).max()) * 0.6
    over = np.where(np.abs(samples) > ceiling, np.sign(samples), 0.0)
    low = sosfiltfilt(butter(8, 120.0, output="sos", fs=RATE), samples.astype(float), axis=1)
    expected = float((low * over).sum() / (samples * over).sum())
    by_band = shares(samples, ceiling)
    assert by_band[0.0] + by_band[20.0] + by_band[60.0] == pytest.approx(expected, abs=0.03)


def test_an_offset_is_no_sub() -> None:
    """At the peaks of a tone of 0.5 on an offset of 0.3 the shares are 3/8 and 5/8; below the ceiling the other way up nothing counts."""
    wave = 0.3 + 0.5 * np.cos(2 * np.pi * 100 * np.arange(4 * RATE) / RATE)
    by_band = shares(signals.mono(wave), 0.795)
    assert by_band[0.0] == pytest.approx(3 / 8, abs=0.01)
    assert by_band[20.0] == pytest.approx(0.0, abs=0.01)
    assert by_band[60.0] == pytest.approx(5 / 8, abs=0.01)


def test_nothing_above_the_ceiling_has_no_shares() -> None:
    assert peak_shares(signals.sine(100.0, 1.0, peak_dbfs=-6.0), RATE, 0.6) == ()
    assert peak_shares(signals.silence(1.0), RATE, 0.1) == ()
    assert peak_shares(np.zeros((2, 0), np.float32), RATE, 0.1) == ()


@pytest.mark.parametrize("rate_hz", [8000, 44100, 96000])
def test_bands_end_at_half_the_rate(rate_hz: int) -> None:
    by_band = peak_shares(signals.sine(100.0, 1.0, rate_hz), rate_hz, 0.9)
    assert by_band[-1].high_hz == min(rate_hz / 2, EDGES_HZ[-1])
    assert [share.low_hz for share in by_band if share.share > 0.98] == [60.0]


def test_gain_and_ceiling_together_change_nothing() -> None:
    samples = signals.drums(3.0)
    plain, halved = shares(samples, 0.4), shares(samples * np.float32(0.5), 0.2)
    assert list(plain.values()) == pytest.approx(list(halved.values()), abs=1e-4)


def test_one_sample_is_enough() -> None:
    by_band = shares(np.ones((1, 1), np.float32), 0.5)
    assert sum(by_band.values()) == pytest.approx(1.0)
