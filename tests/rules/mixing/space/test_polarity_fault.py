"""One channel upside down, for most of the song."""

import pytest

from features.records.base import Absence
from rules.base import Finding
from rules.mixing.space import polarity_fault
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = polarity_fault.Limits()


def fired(correlation: float = -0.9) -> Finding:
    return found(polarity_fault.check(records.stereo(correlation=correlation, polarity_inverted=True), LIMITS))


@pytest.mark.parametrize(("correlation", "excess"), [(-0.9, 3.0), (-0.35, 1.0)])
def test_fires_heavily_and_surely(correlation: float, excess: float) -> None:
    finding = fired(correlation)
    assert finding.numbers["correlation"] == correlation
    assert finding.excess == pytest.approx(excess)
    assert finding.confidence == "high"
    assert finding.remedy == Remedy(kind="polarity", part="right")


@pytest.mark.parametrize(("correlation", "inverted"), [(-0.9, False), (-0.3, True), (0.5, True)])
def test_quiet_about_a_passing_inversion_and_a_mild_one(correlation: float, inverted: bool) -> None:
    assert polarity_fault.check(records.stereo(correlation=correlation, polarity_inverted=inverted), LIMITS) is None


def test_not_applicable_to_mono() -> None:
    mono = records.stereo(correlation=None, absent=(Absence("correlation", "the file has one channel"),))
    assert reason(polarity_fault.check(mono, LIMITS)) == "the file has one channel"
