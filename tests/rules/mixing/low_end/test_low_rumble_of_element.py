"""Low end that is not the element's own."""

from math import log10

import pytest

from features.records.elements import Element
from rules.base import Finding
from rules.mixing.low_end import low_rumble_of_element
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = low_rumble_of_element.Limits()
BANDS_HZ = records.BANDS_HZ


def rumbling(rumble_db: float = -28.0, name: str = "pad", gap_db: float = -60.0, body_db: float = -40.0, **changes: object) -> Element:
    """Return an element that lives from 400 Hz up, with something below 60 Hz."""
    levels = tuple(rumble_db if hz < 60.0 else gap_db if hz < 390.0 else body_db for hz in BANDS_HZ)
    return records.element(name, level={"third_octave_db": levels}, **changes)


def fired(element: Element | None = None) -> Finding:
    return found_all(low_rumble_of_element.check(records.elements(element or rumbling()), LIMITS))[0]


def test_fires_with_a_high_pass_an_octave_under_what_it_lives_from_at_most_at_100_hz() -> None:
    finding = fired()
    assert finding.remedy == Remedy("high_pass", "pad", frequency_hz=100.0, order=2)
    assert (finding.stem, finding.cause, finding.band_hz) == ("pad", "excess", (20.0, 100.0))
    assert finding.title == "'pad' rumbles below 100 Hz"


def test_fires_with_what_it_adds_to_the_low_end_of_all_elements() -> None:
    rumbler = rumbling()
    low = {
        element.name: element.level.plays_share
        * sum(10.0 ** (db / 10.0) for hz, db in zip(BANDS_HZ, element.level.third_octave_db, strict=True) if hz <= 100.0)
        for element in records.elements(rumbler).elements
    }
    adds_db = 10.0 * log10(sum(low.values()) / (sum(low.values()) - low["pad"]))
    assert fired(rumbler).numbers["adds_db"] == pytest.approx(adds_db)
    assert fired(rumbler).excess == pytest.approx((adds_db - 0.7) / 0.7)


def test_fires_more_surely_where_a_gap_parts_it_from_the_notes() -> None:
    assert fired().confidence == "medium"
    assert fired(rumbling(-31.0, gap_db=-30.0, body_db=-20.0)).confidence == "low"


def test_fires_at_most_with_ten_decibels_where_the_low_end_is_all_its_own() -> None:
    song = records.elements(elements=(rumbling(), records.element("lead")))
    assert found_all(low_rumble_of_element.check(song, LIMITS))[0].numbers["adds_db"] == pytest.approx(10.0)


@pytest.mark.parametrize("role", ["kick", "bass", "drums", "percussion", "effects"])
def test_quiet_about_elements_that_own_the_lows(role: str) -> None:
    assert low_rumble_of_element.check(records.elements(rumbling(role=role)), LIMITS) is None


def test_quiet_when_it_adds_little() -> None:
    assert low_rumble_of_element.check(records.elements(rumbling(-45.0)), LIMITS) is None


def test_quiet_about_an_element_that_is_strongest_in_the_lows() -> None:
    falling = tuple(-20.0 - band for band in range(len(BANDS_HZ)))
    assert low_rumble_of_element.check(records.elements(records.element("pad", level={"third_octave_db": falling})), LIMITS) is None


def test_quiet_where_the_low_end_is_far_below_everything() -> None:
    bright = records.element("lead", level={"third_octave_db": tuple(-70.0 if hz < 390.0 else -10.0 for hz in BANDS_HZ)})
    song = records.elements(elements=(bright, rumbling(-55.0, gap_db=-80.0)))
    assert low_rumble_of_element.check(song, LIMITS) is None


def test_quiet_about_an_element_without_a_spectrum() -> None:
    bare = records.element("pad", level={"third_octave_hz": (), "third_octave_db": ()})
    assert low_rumble_of_element.check(records.elements(bare), LIMITS) is None


@pytest.mark.parametrize(("name", "off_db"), [("pad", 12.0), ("kick", -20.0)])
def test_quiet_where_it_is_only_a_fader_that_makes_it_rumble(name: str, off_db: float) -> None:
    rumbler = rumbling(-33.0)
    assert fired(rumbler).excess > 0.0
    assert low_rumble_of_element.check(records.elements(rumbler, moves=(records.level_move((name,), None, off_db),)), LIMITS) is None
