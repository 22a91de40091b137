"""A constant offset, per channel."""

import pytest

from rules.base import Finding
from rules.delivery import dc_offset
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = dc_offset.Limits()


def fired(*offsets: float) -> Finding:
    return found(dc_offset.check(records.health(dc_dbfs=offsets or (-90.0, -25.0)), LIMITS))


def test_fires_with_the_larger_offset_its_channel_and_what_it_costs() -> None:
    finding = fired()
    assert (finding.numbers["offset_dbfs"], finding.numbers["channel"]) == (-25.0, "right")
    # 10 ** (-25 / 20) = 0.0562 of the room: 20 log10(1.0562) = 0.475 dB
    assert finding.numbers["cost_db"] == pytest.approx(0.475, abs=0.001)
    assert finding.excess == pytest.approx(1.0)
    assert finding.remedy == Remedy(kind="high_pass", frequency_hz=15.0, order=2)
    assert finding.confidence == "high"


def test_fires_on_the_only_channel_of_a_mono_file() -> None:
    assert fired(-30.0).numbers["channel"] == "only"


@pytest.mark.parametrize("offsets", [(-40.0, -40.0), (None, -75.0), (None, None)])
def test_quiet_at_the_limit_and_without_an_offset(offsets: tuple[float | None, ...]) -> None:
    assert dc_offset.check(records.health(dc_dbfs=offsets), LIMITS) is None


def test_not_applicable_to_silence() -> None:
    assert reason(dc_offset.check(records.health(silent=True), LIMITS)) == "the file is silent"
