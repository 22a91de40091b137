"""A width that changed."""

import pytest

from rules.base import Finding, NotApplicable
from rules.mastering import width_changed
from tests import mastering_records
from tests.rule_cases import found

LIMITS = width_changed.Limits()


def fired(change_db: float = 2.5) -> Finding:
    return found(width_changed.check(mastering_records.mastered(width_change_db=change_db), LIMITS))


@pytest.mark.parametrize("change_db", [2.5, -2.5])
def test_fires_both_ways_and_takes_it_back(change_db: float) -> None:
    finding = fired(change_db)
    assert finding.excess == pytest.approx(1.0)
    assert finding.remedy is not None
    assert finding.remedy.gain_db == -change_db


def test_quiet_up_to_the_limit() -> None:
    assert width_changed.check(mastering_records.mastered(width_change_db=-1.5), LIMITS) is None


def test_says_when_there_is_no_side() -> None:
    assert isinstance(width_changed.check(mastering_records.mastered(width_change_db=None), LIMITS), NotApplicable)
