"""A slope that falls too fast, judged in spreads between songs (0.8 dB per octave in these records)."""

from dataclasses import replace

import pytest

from features.records.balance import Balance, Shelf
from features.records.base import Absence, Course
from rules.base import Finding
from rules.mixing.tone import too_dark
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = too_dark.Limits()


def dark(tilt: float, lows_db: float = 1.0, highs_db: float = -5.0) -> Balance:
    deviation = tuple(lows_db if hz < 500.0 else highs_db if hz > 2000.0 else 0.0 for hz in records.BANDS_HZ)
    return records.balance(tilt_deviation_db_per_octave=tilt, deviation_db=deviation)


def fired() -> Finding:
    return found(too_dark.check(dark(-2.0), records.spectrum(), records.target(), LIMITS))


def test_fires_with_both_ends_in_numbers() -> None:
    finding = fired()
    assert finding.numbers["lows_db"] == pytest.approx(1.0)
    assert finding.numbers["highs_db"] == pytest.approx(-5.0)
    assert finding.excess == pytest.approx((2.0 / 0.8 - 2.0) / 0.5)


def test_fires_with_a_high_shelf_up_when_the_highs_are_missing() -> None:
    finding = fired()
    assert finding.remedy == Remedy(kind="high_shelf", frequency_hz=3000.0, gain_db=2.5, q=0.5)
    assert finding.cause == "lack"


def test_fires_with_a_low_shelf_down_when_the_lows_stand_high() -> None:
    finding = found(too_dark.check(dark(-2.0, lows_db=6.0, highs_db=-1.0), records.spectrum(), records.target(), LIMITS))
    assert finding.remedy == Remedy(kind="low_shelf", frequency_hz=250.0, gain_db=-3.0, q=0.5)
    assert (finding.cause, finding.band_hz) == ("excess", (60.0, 400.0))


def test_fires_where_the_song_is_darkest() -> None:
    values = tuple(-9.0 if 90 <= second < 100 else -5.0 for second in range(200))
    spectrum = records.spectrum(tilt=Course("dB/oct", 0.0, 1.0, values))
    (span,) = found(too_dark.check(dark(-2.0), spectrum, records.target(), LIMITS)).where
    assert (span.start_s, span.end_s) == (90.0, 100.0)


@pytest.mark.parametrize(
    ("tilt", "songs", "confidence"), [(-2.0, 8, "medium"), (-2.8, 8, "high"), (-2.8, 3, "medium"), (-2.5, 0, "medium"), (-2.3, 0, "low")]
)
def test_fires_as_sure_as_the_references_allow(tilt: float, songs: int, confidence: str) -> None:
    finding = found(too_dark.check(dark(tilt), records.spectrum(), records.target(songs=songs), LIMITS))
    assert finding.confidence == confidence


@pytest.mark.parametrize(
    ("tilt", "strength", "confidence"),
    [(-0.5, -2.6, "low"), (-0.5, -3.9, "medium"), (-0.5, -2.5, None), (0.5, -3.9, None), (-0.5, 3.9, None)],
)
@pytest.mark.parametrize("songs", [0, 8])
def test_fires_on_highs_that_a_shelf_explains(tilt: float, strength: float, confidence: str | None, songs: int) -> None:
    balance = replace(dark(tilt), shelves=(Shelf("high_shelf", 3500.0, -5.0, strength),))
    outcome = too_dark.check(balance, records.spectrum(), records.target(songs=songs), LIMITS)
    assert (None if outcome is None else found(outcome).confidence) == confidence


@pytest.mark.parametrize("balance", [dark(-1.6), dark(+3.0), dark(-2.0, lows_db=1.4, highs_db=-1.4)])
def test_quiet_at_the_limit_for_a_bright_song_and_below_what_is_heard(balance: Balance) -> None:
    assert too_dark.check(balance, records.spectrum(), records.target(), LIMITS) is None


def test_not_applicable_without_a_slope() -> None:
    balance = records.balance(tilt_deviation_db_per_octave=None, absent=(Absence("tilt_deviation_db_per_octave", "the file is too short"),))
    assert reason(too_dark.check(balance, records.spectrum(), records.target(), LIMITS)) == "the file is too short"
