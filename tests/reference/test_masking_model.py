"""Published numbers of the masking model (ITU-R BS.1387, basic version; Terhardt 1979)."""

import numpy as np
import pytest

from features.limiting.distortion import bark_bands, ear_weight_db, internal_noise, mask_offset_db, spread

SPACING = 0.25
CENTRE = 41


def around(level_db: float, frequency_hz: float = 1000.0) -> np.ndarray:
    """Spread of one band at ``level_db``, in dB; the other bands hold next to nothing."""
    bands = np.full(101, 1e-30)
    bands[CENTRE] = 10 ** (level_db / 10)
    out = np.empty(101)
    spread(bands, np.full(101, frequency_hz), SPACING, out)
    return np.asarray(10 * np.log10(out))


def test_basic_version_has_109_bands_from_80_hz_to_18_khz() -> None:
    bands = bark_bands(48000)  # BS.1387, table of the filter bank of the basic version: 109 bands; value recalled, not confirmed
    assert len(bands) == 109
    assert bands.low_hz[0] == pytest.approx(80.0)
    assert bands.high_hz[-1] == pytest.approx(18000.0)
    assert bands.low_hz[1] == pytest.approx(103.445, abs=0.01)  # second band's lower edge in that table; value recalled, not confirmed


@pytest.mark.parametrize(("level_db", "slope"), [(40, 16.2), (60, 12.2), (80, 8.2)])
def test_upper_slope_flattens_with_level(level_db: float, slope: float) -> None:
    """Terhardt 1979 at 1 kHz: 24 + 0.23 / (F / kHz) - 0.2 L dB/Bark."""
    spreaded = around(level_db)
    assert (spreaded[CENTRE] - spreaded[CENTRE + 8]) / (8 * SPACING) == pytest.approx(slope, abs=0.05)


@pytest.mark.parametrize("level_db", [40, 80])
def test_lower_slope_is_27_db_per_bark_at_every_level(level_db: float) -> None:
    spreaded = around(level_db)
    assert (spreaded[CENTRE] - spreaded[CENTRE - 8]) / (8 * SPACING) == pytest.approx(27.0, abs=0.05)


def test_spreading_keeps_the_power_of_a_single_band() -> None:
    assert 10 * np.log10((10 ** (around(60.0) / 10)).sum()) == pytest.approx(60.0, abs=0.1)


def test_equal_bands_add_up_by_the_power_of_0_4() -> None:
    """Two maskers of the same level at the same place count ``2**(1/0.4)``: +7.5 dB, more than their power (+3 dB)."""
    bands = np.full(101, 1e-30)
    bands[CENTRE] = bands[CENTRE + 1] = 1e6
    out = np.empty(101)
    spread(bands, np.full(101, 1000.0), SPACING, out)
    assert 10 * np.log10(out[CENTRE]) - around(60.0)[CENTRE] > 4.0


def test_ear_weight_and_internal_noise() -> None:
    frequency = np.array([1000.0, 3300.0])
    by_hand = [-2.184 + 6.5 * 0.04184 - 0.001, -2.184 * 0.38475 + 6.5 - 0.001 * 73.57]  # the formula with its powers looked up
    assert ear_weight_db(frequency) == pytest.approx(by_hand, abs=0.005)
    assert 10 * np.log10(internal_noise(frequency[:1])) == pytest.approx(1.456)  # 0.4 of Terhardt's 3.64 dB at 1 kHz
    # Together: Terhardt's threshold in quiet, 3.64 f^-0.8 - 6.5 exp(...) + ..., 3.37 dB SPL at 1 kHz
    assert 10 * np.log10(internal_noise(frequency[:1])) - ear_weight_db(frequency[:1]) == pytest.approx(3.37, abs=0.01)


def test_offset_below_the_excitation() -> None:
    frequency = 650 * np.sinh(np.array([4.0, 11.9, 20.0]) / 7)
    assert mask_offset_db(frequency) == pytest.approx([3.0, 3.0, 5.0])
