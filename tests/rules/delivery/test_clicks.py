"""Clicks, few and many."""

import pytest

from features.records.base import Moment
from rules.base import Finding
from rules.delivery import clicks
from tests import records
from tests.rule_cases import found, reason

LIMITS = clicks.Limits()


def fired(count: int = 15) -> Finding:
    places = (Moment(31.0, 31.001, 44.0), Moment(12.0, 12.001, 38.0))
    return found(clicks.check(records.health(click_count=count, clicks=places[:count]), LIMITS))


def test_fires_with_how_many_how_high_and_where() -> None:
    finding = fired()
    assert finding.numbers == {"found": "15 clicks", "height_db": 44.0}
    assert finding.excess == pytest.approx(1.5)
    assert finding.confidence == "medium"
    assert [span.start_s for span in finding.where] == [31.0, 12.0]


def test_fires_on_a_single_one() -> None:
    finding = fired(1)
    assert (finding.numbers["found"], finding.excess) == ("1 click", 0.5)


@pytest.mark.parametrize(("count", "confidence"), [(59, "medium"), (60, "low")])
def test_fires_hardly_sure_when_there_are_so_many_that_they_may_be_a_sound(count: int, confidence: str) -> None:
    assert fired(count).confidence == confidence


@pytest.mark.parametrize(("height_db", "confidence"), [(30.0, "low"), (34.9, "low"), (35.0, "medium")])
def test_fires_less_surely_on_low_ones(height_db: float, confidence: str) -> None:
    low = records.health(click_count=2, clicks=(Moment(3.0, 3.001, height_db), Moment(9.0, 9.001, 26.0)))
    assert found(clicks.check(low, LIMITS)).confidence == confidence


def test_quiet_about_attacks_that_are_nearly_as_sharp_as_clicks() -> None:
    sharp = records.health(click_count=9, clicks=(Moment(3.0, 3.001, 29.9),))
    assert clicks.check(sharp, LIMITS) is None


def test_quiet_without_clicks_and_up_to_the_users_own_limit() -> None:
    assert clicks.check(records.health(), LIMITS) is None
    crackle = records.health(click_count=5, clicks=(Moment(12.0, 12.001, 38.0),))
    assert clicks.check(crackle, clicks.Limits(count=5.0)) is None


def test_not_applicable_to_silence() -> None:
    assert reason(clicks.check(records.health(silent=True), LIMITS)) == "the file is silent"
