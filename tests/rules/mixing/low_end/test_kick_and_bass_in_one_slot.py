"""Kick and bass at the same frequencies, without either making room."""

import pytest

from features.records.low_end import LowEnd
from rules.base import Finding
from rules.mixing.low_end import kick_and_bass_in_one_slot
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = kick_and_bass_in_one_slot.Limits()


def shared(**changes: object) -> LowEnd:
    return records.low_end(**{"slot_overlap": 0.85, "kick_lift_db": 4.0, "kick_dip_db": 0.2, "bass_hz": 62.0, **changes})


def fired() -> Finding:
    return found(kick_and_bass_in_one_slot.check(shared(), LIMITS))


def test_fires_with_both_frequencies_and_what_they_share() -> None:
    finding = fired()
    assert (finding.numbers["kick_hz"], finding.numbers["bass_hz"], finding.numbers["overlap"]) == (58.0, 62.0, 0.85)
    assert finding.excess == pytest.approx(1.0)  # a rise 1 dB short of clear is less than 0.15 too much in common
    assert finding.remedy == Remedy(kind="bell", part="sustained", frequency_hz=58.0, gain_db=-3.0, q=1.4)
    assert finding.confidence == "medium"


@pytest.mark.parametrize(("changes", "excess"), [({"kick_lift_db": 2.0}, 1.5), ({"kick_lift_db": 4.9}, 0.1)])
def test_fires_as_far_as_the_reading_that_is_least_past_its_limit(changes: dict[str, float], excess: float) -> None:
    assert found(kick_and_bass_in_one_slot.check(shared(**changes), LIMITS)).excess == pytest.approx(excess)


@pytest.mark.parametrize(("kicks", "confidence"), [(63, "low"), (64, "medium")])
def test_fires_more_surely_the_more_kicks_there_are(kicks: int, confidence: str) -> None:
    assert found(kick_and_bass_in_one_slot.check(shared(kick_count=kicks), LIMITS)).confidence == confidence


def test_fires_when_the_dip_is_unknown() -> None:
    assert found(kick_and_bass_in_one_slot.check(shared(kick_dip_db=None), LIMITS))


@pytest.mark.parametrize("changes", [{"slot_overlap": 0.7}, {"kick_lift_db": 5.1}, {"kick_dip_db": 1.6}, {"bass_hz": 120.0}])
def test_quiet_when_one_of_them_makes_room(changes: dict[str, float]) -> None:
    assert kick_and_bass_in_one_slot.check(shared(**changes), LIMITS) is None


@pytest.mark.parametrize("changes", [{"kick_count": 0}, {"kick_count": 15}, {"slot_overlap": None}, {"bass_hz": None}, {"kick_hz": None}])
def test_not_applicable_without_kick_or_bass(changes: dict[str, float | None]) -> None:
    assert reason(kick_and_bass_in_one_slot.check(shared(**changes), LIMITS))
