"""Pumping after the kick, and whether it may be meant."""

import pytest

from features.records.base import Absence, Span
from rules.base import Finding
from rules.mixing.dynamics import pumping
from tests import records
from tests.rule_cases import found, reason

LIMITS = pumping.Limits()


def fired(recovery_ms: float | None = 400.0, tempo_bpm: float | None = 120.0) -> Finding:
    readings = records.pumping(depth_db=6.5, share_of_kicks=0.7, recovery_ms=recovery_ms, where=(Span(30.0, 34.0),))
    return found(pumping.check(readings, records.hits(tempo_bpm=tempo_bpm), LIMITS))


def test_fires_with_depth_share_and_recovery() -> None:
    finding = fired()
    assert (finding.numbers["depth_db"], finding.numbers["share"]) == (6.5, 0.7)
    assert finding.numbers["what"] == "Sustained sounds dip by 6.5 dB after 70% of the kicks and are half back after 400 ms"
    assert finding.excess == pytest.approx(1.0)
    assert finding.where == (Span(30.0, 34.0),)


@pytest.mark.parametrize(
    ("recovery_ms", "tempo_bpm", "confidence"),
    [(250.0, 120.0, "low"), (251.0, 120.0, "medium"), (200.0, None, "medium"), (None, 120.0, "medium")],
)
def test_fires_less_surely_when_it_keeps_time(recovery_ms: float | None, tempo_bpm: float | None, confidence: str) -> None:
    assert fired(recovery_ms, tempo_bpm).confidence == confidence


def test_fires_without_a_remedy_since_a_dip_cannot_be_undone_on_the_mix() -> None:
    assert fired().remedy is None


def test_fires_on_a_recovery_whose_dip_drums_cover() -> None:
    finding = found(pumping.check(records.pumping(depth_db=2.0, share_of_kicks=0.4, rise_db=1.5), records.hits(), LIMITS))
    assert finding.excess == pytest.approx(1.0)
    assert str(finding.numbers["what"]).startswith("Sustained sounds swell by 1.5 dB")
    both = found(pumping.check(records.pumping(depth_db=6.5, share_of_kicks=0.7, rise_db=1.5), records.hits(), LIMITS))
    assert "dip by 6.5 dB" in str(both.numbers["what"])
    assert "swell by 1.5 dB" in str(both.numbers["what"])


def test_fires_on_a_dip_where_no_rise_could_be_read() -> None:
    dipped = records.pumping(depth_db=6.5, share_of_kicks=0.7, recovery_ms=400.0, rise_db=None)
    assert found(pumping.check(dipped, records.hits(), LIMITS)).numbers["what"] == fired().numbers["what"]


def test_quiet_on_a_slight_rise() -> None:
    assert pumping.check(records.pumping(rise_db=0.5), records.hits(), LIMITS) is None


@pytest.mark.parametrize("readings", [{"depth_db": 5.0, "share_of_kicks": 0.9}, {"depth_db": 9.0, "share_of_kicks": 0.49}])
def test_quiet_on_a_shallow_dip_and_after_few_kicks(readings: dict[str, float]) -> None:
    assert pumping.check(records.pumping(**readings), records.hits(), LIMITS) is None


def test_not_applicable_without_a_kick() -> None:
    none = records.pumping(depth_db=None, share_of_kicks=None, absent=(Absence("depth_db", "no kick was found"),))
    assert reason(pumping.check(none, records.hits(), LIMITS)) == "no kick was found"
