"""How much the low end rises at the kick."""

import pytest

from features.records.base import Absence, Moment, Span
from features.records.low_end import LowEnd
from rules.base import Finding
from rules.mixing.low_end import kick_does_not_stick_out
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = kick_does_not_stick_out.Limits()


def flat(lift_db: float = 1.5, count: int = 360) -> LowEnd:
    return records.low_end(kick_lift_db=lift_db, kick_count=count, weakest_kicks=(Moment(60.0, 70.0, 0.5),))


def fired() -> Finding:
    return found(kick_does_not_stick_out.check(flat(), LIMITS))


def test_fires_with_the_rise_and_a_cut_in_the_bass_at_the_kick() -> None:
    finding = fired()
    assert (finding.numbers["lift_db"], finding.numbers["kick_hz"], finding.numbers["kicks"]) == (1.5, 58.0, 360)
    assert finding.excess == pytest.approx(1.5)
    assert finding.remedy == Remedy(kind="bell", part="sustained", frequency_hz=58.0, gain_db=-3.0, q=1.0)
    assert (finding.cause, finding.where) == ("buried", (Span(60.0, 70.0),))


@pytest.mark.parametrize(("count", "confidence"), [(64, "medium"), (63, "low")])
def test_fires_less_surely_on_few_kicks(count: int, confidence: str) -> None:
    assert found(kick_does_not_stick_out.check(flat(count=count), LIMITS)).confidence == confidence


def test_quiet_at_the_limit() -> None:
    assert kick_does_not_stick_out.check(flat(3.0), LIMITS) is None


def test_not_applicable_without_a_kick() -> None:
    none = records.low_end(kick_count=0, kick_times_s=(), kick_lift_db=None, absent=(Absence("kick_lift_db", "no hits"),))
    assert "only 0 hits" in reason(kick_does_not_stick_out.check(none, LIMITS))
    assert "only 15 hits" in reason(kick_does_not_stick_out.check(flat(count=15), LIMITS))
    unknown = records.low_end(kick_lift_db=None, absent=(Absence("kick_lift_db", "no pause before the hits"),))
    assert reason(kick_does_not_stick_out.check(unknown, LIMITS)) == "no pause before the hits"
