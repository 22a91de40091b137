"""A wall in the spectrum."""

import pytest

from rules.base import Finding
from rules.delivery import band_limited
from tests import records
from tests.rule_cases import found, reason

LIMITS = band_limited.Limits()


def fired(edge_hz: float = 16000.0) -> Finding:
    health = records.health(bandwidth_hz=edge_hz, bandwidth_wall_db=45.0)
    return found(band_limited.check(health, records.file(), LIMITS))


@pytest.mark.parametrize(("edge_hz", "edge", "excess"), [(16000.0, "16 kHz", 1.75), (19400.0, "19 kHz", 0.5)])
def test_fires_with_edge_height_and_rate(edge_hz: float, edge: str, excess: float) -> None:
    finding = fired(edge_hz)
    assert finding.numbers == {"edge": edge, "wall_db": 45.0, "rate_khz": 44.1}
    assert finding.excess == pytest.approx(excess)
    assert (finding.confidence, finding.remedy) == ("medium", None)


@pytest.mark.parametrize(("edge_hz", "wall_db"), [(None, None), (16000.0, 24.9), (19600.0, 60.0)])
def test_quiet_without_a_wall_on_a_gentle_one_and_above_hearing(edge_hz: float | None, wall_db: float | None) -> None:
    health = records.health(bandwidth_hz=edge_hz, bandwidth_wall_db=wall_db)
    assert band_limited.check(health, records.file(), LIMITS) is None


def test_quiet_on_an_encoders_own_wall_and_fires_less_surely_below_it() -> None:
    own, lower = (records.health(bandwidth_hz=edge_hz, bandwidth_wall_db=45.0) for edge_hz in (15500.0, 11000.0))
    assert band_limited.check(own, records.file(lossy=True), LIMITS) is None
    assert found(band_limited.check(lower, records.file(lossy=True), LIMITS)).confidence == "low"


def test_not_applicable_to_silence() -> None:
    assert reason(band_limited.check(records.health(silent=True), records.file(), LIMITS)) == "the file is silent"
