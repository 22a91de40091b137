"""A constant offset, per channel."""

import pytest

from rules.base import Finding
from rules.delivery import dc_offset
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = dc_offset.Limits()


def fired() -> Finding:
    return found(dc_offset.check(records.health(dc_dbfs=(-90.0, -45.0)), LIMITS))


def test_fires_with_the_larger_offset_and_its_channel() -> None:
    finding = fired()
    assert (finding.numbers["offset_dbfs"], finding.numbers["channel"], finding.excess) == (-45.0, "right", 1.5)
    assert finding.remedy == Remedy(kind="high_pass", frequency_hz=15.0, order=2)
    assert finding.confidence == "high"


def test_fires_on_the_only_channel_of_a_mono_file() -> None:
    assert found(dc_offset.check(records.health(dc_dbfs=(-50.0,)), LIMITS)).numbers["channel"] == "left"


@pytest.mark.parametrize("offsets", [(-60.0, -60.0), (None, -75.0), (None, None)])
def test_quiet_at_the_limit_and_without_an_offset(offsets: tuple[float | None, ...]) -> None:
    assert dc_offset.check(records.health(dc_dbfs=offsets), LIMITS) is None


def test_not_applicable_to_silence() -> None:
    assert reason(dc_offset.check(records.health(silent=True), LIMITS)) == "the file is silent"
