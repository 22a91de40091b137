"""Quiet against loud parts."""

import pytest

from features.records.base import Absence, Span
from rules.base import Finding
from rules.mixing.dynamics import sections_too_far_apart
from tests import records
from tests.rule_cases import found, reason

LIMITS = sections_too_far_apart.Limits()


def fired(step_lu: float = 19.5) -> Finding:
    return found(sections_too_far_apart.check(records.sections(quiet_to_loud_lu=step_lu), LIMITS))


@pytest.mark.parametrize(("step_lu", "excess", "rise_db"), [(19.5, 1.5, 2.25), (15.3, 0.1, 1.0), (40.0, 4.0, 4.0)])
def test_fires_with_the_step_and_half_of_what_is_too_much(step_lu: float, excess: float, rise_db: float) -> None:
    finding = fired(step_lu)
    assert (finding.numbers["step_lu"], finding.numbers["rise_db"]) == (step_lu, rise_db)
    assert finding.excess == pytest.approx(excess)


def test_fires_at_the_quiet_part_and_never_surely() -> None:
    finding = fired()
    assert finding.where == (Span(20.0, 70.0),)
    assert finding.confidence == "low"
    assert finding.remedy is None


@pytest.mark.parametrize("step_lu", [0.0, 15.0])
def test_quiet_up_to_the_limit(step_lu: float) -> None:
    assert sections_too_far_apart.check(records.sections(quiet_to_loud_lu=step_lu), LIMITS) is None


def test_not_applicable_to_a_song_of_one_part() -> None:
    sections = records.sections(quiet_to_loud_lu=None, absent=(Absence("quiet_to_loud_lu", "only one part was found"),))
    assert reason(sections_too_far_apart.check(sections, LIMITS)) == "only one part was found"
