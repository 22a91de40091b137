"""Listening conditions against their published sources."""

from pathlib import Path

import numpy as np
import pytest
from scipy import signal

import advisor
from features.elsewhere.conditions import CONDITIONS, DESK, Condition, band_pass, car_noise, quieter_hearing, shelf_below, traffic_noise
from features.sound.bands import a_weighting, third_octaves

SOURCES = (Path(str(advisor.__file__)).parents[1] / "docs" / "sources.md").read_text(encoding="utf-8")


def named(key: str) -> Condition:
    return next(condition for condition in CONDITIONS if condition.key == key)


def test_every_condition_is_declared_once_with_a_source_that_is_listed() -> None:
    keys = [condition.key for condition in CONDITIONS]
    assert len(set(keys)) == len(keys)
    assert all(f"### {source}\n" in SOURCES for condition in (DESK, *CONDITIONS) for source in condition.sources)
    assert all(condition.sources for condition in CONDITIONS)


@pytest.mark.parametrize(("corner_hz", "order"), [(600.0, 3), (250.0, 3), (90.0, 4), (140.0, 2)])
def test_small_loudspeakers_fall_as_butterworth_filters_do(corner_hz: float, order: int) -> None:
    hz, gain_db = np.array(band_pass(corner_hz, order)).T
    _, response = signal.freqs(*signal.butter(order, 2 * np.pi * corner_hz, "highpass", analog=True), worN=2 * np.pi * hz)
    assert gain_db == pytest.approx(20 * np.log10(np.abs(response)), abs=0.01)


def test_traffic_noise_has_the_published_shape_and_its_level() -> None:
    """EN 1793-3: the A-weighted level of third octaves is highest at 1 kHz, 12 dB over 100 Hz, 10 dB over 5 kHz; the sum is 0 dB."""
    hz, level_db = np.array(traffic_noise(70.0)).T
    weighted = level_db + a_weighting(hz)
    by_band = dict(zip(hz.round(-1).tolist(), weighted.tolist(), strict=True))
    assert hz[int(np.argmax(weighted))] == pytest.approx(1000.0)
    assert by_band[1000.0] - by_band[100.0] == pytest.approx(12.0)
    assert by_band[1000.0] - by_band[5010.0] == pytest.approx(10.0)
    assert 10 * np.log10(np.sum(10 ** (weighted / 10))) == pytest.approx(70.0, abs=0.2)


def test_car_noise_falls_by_seven_db_an_octave_and_adds_up_to_its_level() -> None:
    hz, level_db = np.array(car_noise(68.0)).T
    assert np.diff(level_db) / np.diff(np.log2(hz)) == pytest.approx(-7.0)
    assert 10 * np.log10(np.sum(10 ** ((level_db + a_weighting(hz)) / 10))) == pytest.approx(68.0)


# ISO 226:2023, table 1: exponent, transfer in dB, threshold in dB
TONES = {31.5: (0.569, -23.1, 59.5), 63.0: (0.482, -13.1, 37.5), 125.0: (0.412, -6.3, 22.1), 1000.0: (0.300, 0.0, 2.4)}


@pytest.mark.parametrize("hz", TONES)
def test_quiet_hearing_bends_as_the_standards_contours_do(hz: float) -> None:
    """Lost at 50 phon against 80: how much nearer the contour of 80 lies to 1 kHz, by the standard's formula 1."""
    lost_db = (contour_db(hz, 50.0) - 50.0) - (contour_db(hz, 80.0) - 80.0)
    assert dict(quieter_hearing(50.0))[hz] == pytest.approx(-lost_db, abs=1e-6)
    assert lost_db > 0.0 or hz == 1000.0


def contour_db(hz: float, phon: float) -> float:
    """Return the level of a tone that sounds as loud as ``phon``."""
    exponent, transfer_db, threshold_db = TONES[hz]
    threshold = 10 ** (exponent * (threshold_db + transfer_db) / 10)
    loudness = 4e-10 ** (0.3 - exponent) * (10 ** (0.03 * phon) - 10**0.072) + threshold
    return float(10 / exponent * np.log10(loudness) - transfer_db)


def test_cabin_gain_is_half_at_its_corner() -> None:
    gain_db = dict(shelf_below(100.0, 8.0))
    assert gain_db[100.0] == pytest.approx(4.0)
    assert gain_db[1000.0] == pytest.approx(8.0 / 101.0)


def test_noise_keeps_its_power_in_bands_of_any_width() -> None:
    bands = third_octaves(48000)
    street = named("street")
    whole = street.noise_db(bands.low_hz, bands.high_hz)
    middle = np.sqrt(bands.low_hz * bands.high_hz)
    halves = [street.noise_db(bands.low_hz, middle), street.noise_db(middle, bands.high_hz)]
    assert 10 * np.log10(sum(10 ** (half / 10) for half in halves)) == pytest.approx(whole, abs=0.5)
    assert np.isneginf(named("phone").noise_db(bands.low_hz, bands.high_hz)).all()


def test_only_swapped_sides_leave_everything_as_it_is() -> None:
    assert [condition.key for condition in CONDITIONS if condition.sounds_as_at_the_desk] == ["swapped"]
