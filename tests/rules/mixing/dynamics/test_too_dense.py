"""Density: both the densest stretch and the whole song must say so."""

import pytest

from features.records.base import Absence
from rules.base import Finding
from rules.mixing.dynamics import too_dense
from tests import records
from tests.rule_cases import found, reason

LIMITS = too_dense.Limits()


def fired(pileup: float = 0.01, **changes: float) -> Finding:
    level = records.level(**{"psr_densest_db": 7.5, "plr_db": 9.0, "integrated_lufs": -14.0, **changes})
    return found(too_dense.check(level, records.crest(peak_pileup_share=pileup), records.sections(), LIMITS))


def test_fires_with_both_readings_at_the_densest_stretch() -> None:
    finding = fired()
    assert (finding.numbers["psr_db"], finding.numbers["plr_db"], finding.numbers["standing"]) == (7.5, 9.0, "")
    assert finding.excess == pytest.approx(1.0)
    assert finding.where == (records.CHORUS,)


@pytest.mark.parametrize(("pileup", "lufs", "confidence"), [(0.01, -14.0, "medium"), (0.2, -14.0, "high"), (0.2, -9.0, "low")])
def test_fires_surely_with_peaks_at_one_height_and_hardly_on_a_file_as_loud_as_a_master(
    pileup: float, lufs: float, confidence: str
) -> None:
    assert fired(pileup, integrated_lufs=lufs).confidence == confidence


def test_fires_on_a_loud_file_saying_that_it_may_be_a_master() -> None:
    assert fired(integrated_lufs=-9.0).numbers["standing"] == ". It may be a finished master"


@pytest.mark.parametrize("readings", [{"psr_densest_db": 9.0, "plr_db": 8.0}, {"psr_densest_db": 7.0, "plr_db": 10.0}])
def test_quiet_when_only_one_reading_is_low(readings: dict[str, float]) -> None:
    assert too_dense.check(records.level(**readings), records.crest(), records.sections(), LIMITS) is None


def test_not_applicable_to_silence() -> None:
    silent = records.level(psr_densest_db=None, absent=(Absence("psr_densest_db", "the song is silent"),))
    assert reason(too_dense.check(silent, records.crest(), records.sections(), LIMITS)) == "the song is silent"
