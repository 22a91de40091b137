"""Holes of digital silence."""

import pytest

from features.records.base import Span
from rules.base import Finding
from rules.delivery import dropouts
from tests import records
from tests.rule_cases import found, reason

LIMITS = dropouts.Limits()


def fired(count: int = 3) -> Finding:
    gaps = tuple(Span(10.0 * place, 10.0 * place + 0.02 * place) for place in range(1, count + 1))
    return found(dropouts.check(records.health(gaps=gaps), LIMITS))


@pytest.mark.parametrize(("count", "places", "longest_ms", "excess"), [(3, "3 places", 60.0, 1.0), (1, "1 place", 20.0, 0.5)])
def test_fires_with_how_many_and_the_longest(count: int, places: str, longest_ms: float, excess: float) -> None:
    finding = fired(count)
    assert finding.numbers["places"] == places
    assert finding.numbers["longest_ms"] == pytest.approx(longest_ms)
    assert finding.excess == pytest.approx(excess)
    assert finding.where[0] == Span(10.0, 10.02)


@pytest.mark.parametrize(("count", "confidence"), [(11, "medium"), (12, "low")])
def test_fires_hardly_sure_where_they_may_be_edits(count: int, confidence: str) -> None:
    assert fired(count).confidence == confidence
    assert len(fired(count).where) == 3


def test_quiet_without_holes_and_up_to_the_users_own_limit() -> None:
    assert dropouts.check(records.health(), LIMITS) is None
    assert dropouts.check(records.health(gaps=(Span(1.0, 1.1),)), dropouts.Limits(count=1.0)) is None


def test_not_applicable_to_silence() -> None:
    assert reason(dropouts.check(records.health(silent=True), LIMITS)) == "the file is silent"
