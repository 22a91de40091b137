"""A step of the whole mix from one moment to the next."""

import pytest

from features.records.base import Moment, Span
from rules.base import Finding
from rules.mixing.dynamics import level_step
from tests import records
from tests.rule_cases import found

LIMITS = level_step.Limits()


def fired(*values: float) -> Finding:
    steps = tuple(Moment(66.0 + 50.0 * place, 74.0 + 50.0 * place, value) for place, value in enumerate(values or (-8.0,)))
    return found(level_step.check(records.sections(even_steps=steps), LIMITS))


@pytest.mark.parametrize(("value", "excess", "confidence"), [(-3.5, 1 / 6, "low"), (6.0, 1.0, "medium"), (-30.0, 4.0, "medium")])
def test_fires_with_the_step_and_more_surely_when_it_is_large(value: float, excess: float, confidence: str) -> None:
    finding = fired(value)
    assert finding.numbers == {"minutes": "1:10", "step_db": value, "back_db": -value, "again": ""}
    assert finding.excess == pytest.approx(excess)
    assert finding.confidence == confidence


def test_fires_on_the_largest_and_shows_the_others() -> None:
    finding = fired(-4.0, 8.0)
    assert finding.numbers["step_db"] == 8.0
    assert finding.where == (Span(116.0, 124.0), Span(66.0, 74.0))


def test_quiet_without_steps_and_up_to_the_limit() -> None:
    assert level_step.check(records.sections(), LIMITS) is None
    assert level_step.check(records.sections(even_steps=(Moment(66.0, 74.0, -3.0),)), LIMITS) is None


def test_fires_as_a_hint_where_no_part_begins() -> None:
    away = (Moment(86.0, 94.0, -8.0),)
    assert found(level_step.check(records.sections(even_steps=away), LIMITS)).confidence == "low"


@pytest.mark.parametrize(
    ("values", "confidence"),
    [((-5.5, 5.2), "medium"), ((-4.0, 4.1), "low"), ((-4.0, 4.1, -4.2), "medium"), ((-5.5, 3.2), "low"), ((-5.5, -5.5), "low")],
)
def test_fires_more_surely_where_the_level_comes_back(values: tuple[float, ...], confidence: str) -> None:
    finding = fired(*values)
    assert finding.confidence == confidence
    assert ("down and up" in str(finding.numbers["again"])) == (values[0] * values[1] < 0.0 and values != (-5.5, 3.2))
