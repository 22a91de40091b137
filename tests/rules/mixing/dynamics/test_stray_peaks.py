"""Rare peaks above the ordinary ones."""

import pytest

from features.records.base import Absence, Moment, Span
from rules.base import Finding
from rules.mixing.dynamics import stray_peaks
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = stray_peaks.Limits()


def fired(*heights_db: float) -> Finding:
    strays = tuple(Moment(10.0 * place, 10.0 * place + 0.01, value) for place, value in enumerate(heights_db or (7.0, 4.5, 2.2), 1))
    return found(stray_peaks.check(records.crest(stray_peaks=strays, stray_height_db=7.0), LIMITS))


def test_fires_with_those_past_the_limit_and_the_highest_of_them() -> None:
    finding = fired()
    assert finding.numbers == {"strays": "2 rare peaks reach up to", "height_db": 7.0, "ordinary_dbfs": -5.0, "ceiling_dbfs": -4.5}
    assert finding.excess == pytest.approx(2.0)
    assert finding.where == (Span(10.0, 10.01), Span(20.0, 20.01))


def test_fires_on_a_single_one_in_the_singular() -> None:
    assert fired(4.5).numbers["strays"] == "1 rare peak is"


def test_fires_with_a_ceiling_just_above_the_ordinary_peaks() -> None:
    assert fired().remedy == Remedy(kind="peak_limiter", ceiling_dbfs=-4.5)


def test_fires_on_lower_ones_that_stand_apart_and_leaves_the_others_out() -> None:
    strays = tuple(Moment(10.0 * place, 10.0 * place + 0.01, value) for place, value in enumerate((3.6, 3.2, 3.0, 1.4), 1))
    finding = found(stray_peaks.check(records.crest(stray_peaks=strays, stray_win_db=2.2), LIMITS))
    assert (finding.numbers["strays"], finding.numbers["height_db"]) == ("3 rare peaks reach up to", 3.6)
    assert finding.excess == pytest.approx(0.2)
    assert stray_peaks.check(records.crest(stray_peaks=strays, stray_win_db=2.0), LIMITS) is None


@pytest.mark.parametrize("heights_db", [(), (4.0,), (3.9, 2.5)])
def test_quiet_up_to_the_limit(heights_db: tuple[float, ...]) -> None:
    strays = tuple(Moment(10.0, 10.01, value) for value in heights_db)
    assert stray_peaks.check(records.crest(stray_peaks=strays, stray_height_db=5.0), LIMITS) is None


def test_not_applicable_to_silence() -> None:
    silent = records.crest(ordinary_peak_dbfs=None, absent=(Absence("ordinary_peak_dbfs", "the file is silent"),))
    assert reason(stray_peaks.check(silent, LIMITS)) == "the file is silent"
