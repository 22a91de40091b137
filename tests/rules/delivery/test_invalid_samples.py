"""Samples that are no number."""

import pytest

from rules.base import Finding
from rules.delivery import invalid_samples
from tests import records
from tests.rule_cases import found

LIMITS = invalid_samples.Limits()


def fired(count: int = 12) -> Finding:
    return found(invalid_samples.check(records.health(not_finite=count), LIMITS))


@pytest.mark.parametrize(("count", "words"), [(12, "12 samples are"), (1, "1 sample is")])
def test_fires_at_full_weight_however_few(count: int, words: str) -> None:
    finding = fired(count)
    assert finding.numbers == {"found": words}
    assert (finding.excess, finding.confidence, finding.remedy) == (4.0, "high", None)


def test_quiet_where_all_are_numbers() -> None:
    assert invalid_samples.check(records.health(), LIMITS) is None
