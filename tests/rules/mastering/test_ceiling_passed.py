"""A finished file above its ceiling."""

import pytest

from rules.base import Finding, NotApplicable
from rules.mastering import ceiling_passed
from tests import mastering_records, records
from tests.rule_cases import found

LIMITS = ceiling_passed.Limits()


def fired(peak_dbtp: float = -0.4) -> Finding:
    return found(ceiling_passed.check(mastering_records.release(), records.level(true_peak_dbtp=peak_dbtp), LIMITS))


def test_fires_above_the_ceiling_asked_for() -> None:
    finding = fired()
    assert finding.numbers["over_db"] == pytest.approx(0.6)
    assert finding.excess == pytest.approx(1.0)


def test_quiet_within_what_meters_differ() -> None:
    level = records.level(true_peak_dbtp=-0.92)
    assert ceiling_passed.check(mastering_records.release(), level, LIMITS) is None
    assert ceiling_passed.check(mastering_records.release(ceiling_dbtp=0.0), records.level(true_peak_dbtp=-0.4), LIMITS) is None


def test_says_when_there_is_no_peak() -> None:
    assert isinstance(ceiling_passed.check(mastering_records.release(), records.level(true_peak_dbtp=None), LIMITS), NotApplicable)
