"""One channel late against the other."""

import pytest

from features.records.base import Absence
from rules.base import Finding
from rules.mixing.space import delay_fault
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = delay_fault.Limits()


def fired(delay_ms: float = 1.1) -> Finding:
    return found(delay_fault.check(records.stereo(delay_ms=delay_ms), LIMITS))


@pytest.mark.parametrize(("delay_ms", "late", "excess"), [(1.1, "right", 2.0), (-0.2, "left", 1.0)])
def test_fires_with_the_late_channel_and_moves_it_earlier(delay_ms: float, late: str, excess: float) -> None:
    finding = fired(delay_ms)
    assert finding.numbers == {"late": late, "delay_ms": abs(delay_ms)}
    assert finding.excess == pytest.approx(excess)
    assert finding.confidence == "high"
    assert finding.remedy == Remedy(kind="delay", part=late, delay_ms=-abs(delay_ms))


@pytest.mark.parametrize("delay_ms", [None, 0.1, -0.1])
def test_quiet_in_time_and_at_the_limit(delay_ms: float | None) -> None:
    assert delay_fault.check(records.stereo(delay_ms=delay_ms), LIMITS) is None


def test_not_applicable_to_a_silent_channel() -> None:
    half = records.stereo(correlation=None, absent=(Absence("correlation", "one channel is silent"),))
    assert reason(delay_fault.check(half, LIMITS)) == "one channel is silent"
