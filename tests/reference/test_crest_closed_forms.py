"""Crest factors against closed forms (peak over true RMS; values follow from the wave's shape)."""

import numpy as np
import pytest
from scipy import signal as filters

from features.loudness.crest import OCTAVE_HZ
from tests import signals
from tests.sounds.meters import crest_of, octaves_of


@pytest.mark.parametrize("band", range(10))
@pytest.mark.parametrize("rate_hz", [44100, 48000])
def test_a_sine_has_a_crest_factor_of_3_01_db(band: int, rate_hz: int) -> None:
    wave = signals.fade(signals.sine_wave(OCTAVE_HZ[band], 12.0, rate_hz, -6.0), rate_hz, 1.0)
    steady = octaves_of(signals.stereo(wave), rate_hz)
    middle = slice(200, 1000)
    crest_db = 20.0 * np.log10(steady.peak[band, middle].max()) - 10.0 * np.log10(steady.energy[band, middle].mean())
    assert crest_db == pytest.approx(3.0103, abs=0.05)
    assert 10.0 * np.log10(steady.energy[band, middle].mean()) == pytest.approx(-6.0206 - 3.0, abs=0.05)


def test_two_equal_sines_in_one_band_reach_6_02_db() -> None:
    wave = signals.sine_wave(950.0, 20.0, peak_dbfs=-12.0) + signals.sine_wave(1063.7, 20.0, peak_dbfs=-12.0)
    trace = octaves_of(signals.stereo(wave))
    crest_db = 20.0 * np.log10(trace.peak[5, 200:1800].max()) - 10.0 * np.log10(trace.energy[5, 200:1800].mean())
    assert crest_db == pytest.approx(6.0206, abs=0.05)


def test_gaussian_noise_stays_within_1_db_of_its_expectation() -> None:
    # The envelope of Gaussian noise of bandwidth B is Rayleigh; the highest of N = B T independent values squared is about 2 ln N
    # times the mean square. B: 0.71 of the centre for an octave, cut at half the rate. One draw strays by about 1 dB, hence the mean.
    crest_db = np.array([crest_of(signals.white(30.0, correlation=1.0, seed=seed)).crest_db for seed in (1, 2)], np.float64)
    centre = np.array(OCTAVE_HZ)
    width_hz = np.minimum(centre * 2**0.5, 24000.0) - centre / 2**0.5
    away_db = (crest_db - 10.0 * np.log10(2.0 * np.log(width_hz * 30.0)))[:, 2:]
    assert abs(float(away_db.mean())) < 1.0
    assert float(np.abs(away_db).max()) < 2.6


def test_neighbouring_bands_share_a_tone_without_loss() -> None:
    for frequency_hz in (90.0, 707.0, 1300.0, 5700.0):
        trace = octaves_of(signals.sine(frequency_hz, 6.0))
        total = float(trace.energy[:, 150:450].mean(axis=1).sum())
        assert total == pytest.approx(0.5, rel=0.02)


@pytest.mark.parametrize("band", [2, 4, 6, 8])
def test_octave_levels_agree_with_butterworth_bands(band: int) -> None:
    wave = signals.pink_wave(20.0)
    centre = OCTAVE_HZ[band]
    bank = filters.butter(6, [centre / 2**0.5, centre * 2**0.5], "bandpass", fs=signals.RATE_HZ, output="sos")
    other = filters.sosfilt(bank, wave)
    trace = octaves_of(signals.mono(wave))
    ours_db = 10.0 * np.log10(trace.energy[band].mean())
    assert ours_db == pytest.approx(10.0 * np.log10(np.mean(other**2)), abs=0.2)
    crest_db = 20.0 * np.log10(np.abs(other).max()) - 10.0 * np.log10(np.mean(other**2))
    assert crest_of(signals.mono(wave)).crest_db[band] == pytest.approx(crest_db, abs=1.5)  # the skirts differ
