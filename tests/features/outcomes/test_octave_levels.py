"""Octave levels: sums of three third octaves in power."""

import pytest

from features.outcomes.octave_levels import octave_levels
from tests import records


def test_three_bands_of_equal_power_lie_4_8_db_above_each() -> None:
    pink = tuple(-10.0 * (step - 17) / 10.0 for step in range(31))  # power per Hz falls as frequency rises: bands of equal power
    hz, levels = octave_levels(records.spectrum(third_octave_db=pink, level_db=-60.0))
    band_db = -60.0 + 30.0 - 6.368  # at 1 kHz: 1000 Hz times the relative width 0.23077
    assert hz == pytest.approx((31.62, 63.1, 125.9, 251.2, 501.2, 1000.0, 1995.3, 3981.1, 7943.3, 15848.9), rel=1e-3)
    assert levels == pytest.approx((band_db + 4.771,) * 10, abs=0.01)


def test_what_lies_far_below_the_strongest_is_held_there() -> None:
    empty = tuple(0.0 if step < 20 else -160.0 for step in range(31))
    _, levels = octave_levels(records.spectrum(third_octave_db=empty))
    assert min(levels) == pytest.approx(max(levels) - 60.0)


def test_silence_has_no_levels() -> None:
    assert octave_levels(records.spectrum(level_db=None)) == ((), ())
