"""Mains hum."""

import pytest

from rules.base import Finding
from rules.delivery import hum
from tests import records
from tests.rule_cases import found, reason

LIMITS = hum.Limits()


def fired(hum_hz: float = 50.0, hum_dbfs: float = -60.0) -> Finding:
    return found(hum.check(records.health(hum_hz=hum_hz, hum_dbfs=hum_dbfs), LIMITS))


@pytest.mark.parametrize(("hum_hz", "hum_dbfs", "excess"), [(50.0, -60.0, 1.5), (60.0, -70.0, 0.5)])
def test_fires_with_frequency_and_level(hum_hz: float, hum_dbfs: float, excess: float) -> None:
    finding = fired(hum_hz, hum_dbfs)
    assert finding.numbers == {"hum_hz": hum_hz, "hum_dbfs": hum_dbfs}
    assert finding.excess == pytest.approx(excess)
    assert finding.confidence == "medium"


def test_fires_without_a_cut_on_the_mix_which_would_take_the_bass() -> None:
    assert fired().remedy is None


@pytest.mark.parametrize(("hum_hz", "hum_dbfs"), [(None, None), (50.0, -75.0)])
def test_quiet_without_hum_and_at_the_limit(hum_hz: float | None, hum_dbfs: float | None) -> None:
    assert hum.check(records.health(hum_hz=hum_hz, hum_dbfs=hum_dbfs), LIMITS) is None


def test_not_applicable_to_silence() -> None:
    assert reason(hum.check(records.health(silent=True), LIMITS)) == "the file is silent"
