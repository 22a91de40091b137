"""Tops that mastering cut off."""

import pytest

from rules.base import Finding
from rules.mastering import clipped_in_mastering
from tests import mastering_records, records
from tests.rule_cases import found

LIMITS = clipped_in_mastering.Limits()


def fired(runs: int = 100) -> Finding:
    record = mastering_records.mastered(clipped_runs_added=runs, shared_s=300.0)
    return found(clipped_in_mastering.check(record, records.health(clipped_longest=9), LIMITS))


def test_fires_by_how_often_it_clips() -> None:
    finding = fired()
    assert finding.numbers == {"runs": "100 clipped runs", "longest": 9.0}
    assert finding.excess == pytest.approx(1.0)


def test_quiet_when_it_is_rare() -> None:
    record = mastering_records.mastered(clipped_runs_added=50, shared_s=300.0)
    assert clipped_in_mastering.check(record, records.health(), LIMITS) is None
