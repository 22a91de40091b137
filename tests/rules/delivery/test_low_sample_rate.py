"""A rate below what songs are delivered at."""

import pytest

from rules.base import Finding
from rules.delivery import low_sample_rate
from tests import records
from tests.rule_cases import found

LIMITS = low_sample_rate.Limits()


def fired(rate_hz: int = 22050) -> Finding:
    return found(low_sample_rate.check(records.file(rate_hz=rate_hz), LIMITS))


@pytest.mark.parametrize(("rate_hz", "excess"), [(22050, 2.205), (44000, 0.5), (8000, 3.61)])
def test_fires_with_the_rate_and_the_highest_frequency(rate_hz: int, excess: float) -> None:
    finding = fired(rate_hz)
    assert finding.numbers == {"rate_khz": rate_hz / 1000, "top_khz": rate_hz / 2000}
    assert finding.excess == pytest.approx(excess)
    assert (finding.confidence, finding.remedy) == ("high", None)


@pytest.mark.parametrize("rate_hz", [44100, 48000, 192000])
def test_quiet_from_the_limit_on(rate_hz: int) -> None:
    assert low_sample_rate.check(records.file(rate_hz=rate_hz), LIMITS) is None
