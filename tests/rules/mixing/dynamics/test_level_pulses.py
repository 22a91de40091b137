"""A gain that moves at a period of its own."""

import pytest

from features.records.base import Absence
from rules.base import Finding
from rules.mixing.dynamics import level_pulses
from tests import records
from tests.rule_cases import found, reason

LIMITS = level_pulses.Limits()


def fired(swing_db: float = 4.5, steady: float = 0.9) -> Finding:
    pulses = records.pulses(period_s=0.43, swing_db=swing_db, alike=0.98, steady=steady, stands_out=9.0)
    return found(level_pulses.check(pulses, LIMITS))


@pytest.mark.parametrize(("swing_db", "excess"), [(3.0, 1.0), (4.5, 2.0), (30.0, 4.0)])
def test_fires_with_period_and_swing(swing_db: float, excess: float) -> None:
    finding = fired(swing_db)
    assert finding.numbers == {"period_s": 0.43, "swing_db": swing_db}
    assert finding.excess == pytest.approx(excess)
    assert finding.confidence == "medium"


@pytest.mark.parametrize(("swing_db", "steady"), [(1.8, 0.9), (4.5, 0.7)])
def test_fires_as_a_hint_where_it_is_small_or_changes(swing_db: float, steady: float) -> None:
    assert fired(swing_db, steady).confidence == "low"


@pytest.mark.parametrize("changes", [{"swing_db": 1.4}, {"alike": 0.83}, {"steady": 0.5}])
def test_quiet_about_small_swings_single_octaves_and_changing_rhythm(changes: dict[str, float]) -> None:
    readings = {"period_s": 0.43, "swing_db": 4.0, "alike": 0.98, "steady": 0.9, "stands_out": 9.0} | changes
    assert level_pulses.check(records.pulses(**readings), LIMITS) is None


def test_not_applicable_without_a_pulse() -> None:
    silent = records.pulses(absent=(Absence("period_s", "no pulse stands out that the hits do not have"),))
    assert reason(level_pulses.check(silent, LIMITS)) == "no pulse stands out that the hits do not have"
