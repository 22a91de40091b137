"""A step of the whole mix from one moment to the next."""

import pytest

from features.records.base import Moment, Span
from rules.base import Finding
from rules.mixing.dynamics import level_step
from tests import records
from tests.rule_cases import found

LIMITS = level_step.Limits()


def fired(*values: float) -> Finding:
    steps = tuple(Moment(60.0 + 20.0 * place, 68.0 + 20.0 * place, value) for place, value in enumerate(values or (-8.0,)))
    return found(level_step.check(records.sections(even_steps=steps), LIMITS))


@pytest.mark.parametrize(("value", "excess", "confidence"), [(-3.5, 1 / 6, "low"), (6.0, 1.0, "medium"), (-30.0, 4.0, "medium")])
def test_fires_with_the_step_and_more_surely_when_it_is_large(value: float, excess: float, confidence: str) -> None:
    finding = fired(value)
    assert finding.numbers == {"minutes": "1:04", "step_db": value, "back_db": -value}
    assert finding.excess == pytest.approx(excess)
    assert finding.confidence == confidence


def test_fires_on_the_largest_and_shows_the_others() -> None:
    finding = fired(-4.0, 8.0)
    assert finding.numbers["step_db"] == 8.0
    assert finding.where == (Span(80.0, 88.0), Span(60.0, 68.0))


def test_quiet_without_steps_and_up_to_the_limit() -> None:
    assert level_step.check(records.sections(), LIMITS) is None
    assert level_step.check(records.sections(even_steps=(Moment(60.0, 68.0, -3.0),)), LIMITS) is None
