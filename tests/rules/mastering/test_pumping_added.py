"""A master that pumps."""

import pytest

from rules.base import Finding, NotApplicable
from rules.mastering import pumping_added
from tests import mastering_records
from tests.rule_cases import found

LIMITS = pumping_added.Limits()


def fired(pumping_db: float = 1.5) -> Finding:
    return found(pumping_added.check(mastering_records.mastered(pumping_db=pumping_db), LIMITS))


def test_fires_past_the_limit_and_says_how_much_less() -> None:
    finding = fired()
    assert finding.excess == pytest.approx(1.0)
    assert finding.numbers["less_db"] == pytest.approx(1.5)


def test_quiet_up_to_the_limit() -> None:
    assert pumping_added.check(mastering_records.mastered(pumping_db=1.0), LIMITS) is None


def test_says_when_it_cannot_judge() -> None:
    assert isinstance(pumping_added.check(mastering_records.mastered(pumping_db=None), LIMITS), NotApplicable)
