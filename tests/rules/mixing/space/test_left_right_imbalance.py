"""A lean to one side that lasts."""

import pytest

from features.records.base import Absence, Course
from rules.base import Finding
from rules.mixing.space import left_right_imbalance
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = left_right_imbalance.Limits()


def lean(*values: float | None) -> Course:
    return Course("dB", 1.5, 1.0, values)


def fired(balance_db: float = 3.0, over_time: Course | None = None) -> Finding:
    course = over_time or records.course("dB", balance_db)
    return found(left_right_imbalance.check(records.stereo(balance_db=balance_db, balance_over_time=course), LIMITS))


@pytest.mark.parametrize(("balance_db", "side"), [(3.0, "left"), (-3.0, "right")])
def test_fires_with_the_louder_side_and_lowers_that_one(balance_db: float, side: str) -> None:
    finding = fired(balance_db)
    assert finding.numbers == {"side": side, "amount_db": 3.0, "share": 1.0}
    assert finding.excess == pytest.approx(1.5)
    assert finding.confidence == "high"
    assert finding.remedy == Remedy(kind="gain", part=side, gain_db=-3.0)


def test_fires_less_surely_and_where_it_leans_most() -> None:
    finding = fired(2.0, lean(*[3.0] * 5, None, *[6.0] * 5, *[0.0] * 3))
    assert finding.confidence == "medium"
    assert finding.numbers["share"] == pytest.approx(10 / 13)
    assert (finding.where[0].start_s, finding.where[0].end_s) == (7.5, 12.5)


@pytest.mark.parametrize(
    ("balance_db", "over_time"), [(1.5, lean(*[1.5] * 9)), (2.5, lean(*[9.0] * 5, *[0.4] * 5)), (-2.5, lean(*[1.0] * 9))]
)
def test_quiet_at_the_limit_and_when_it_does_not_last(balance_db: float, over_time: Course) -> None:
    assert left_right_imbalance.check(records.stereo(balance_db=balance_db, balance_over_time=over_time), LIMITS) is None


def test_not_applicable_to_mono() -> None:
    mono = records.stereo(balance_db=None, absent=(Absence("balance_db", "the file has one channel"),))
    assert reason(left_right_imbalance.check(mono, LIMITS)) == "the file has one channel"
