"""Overs after lossy coding."""

import pytest

from features.records.mastering import Coded
from rules.base import Finding, NotApplicable
from rules.mastering import coded_overs
from tests import mastering_records
from tests.rule_cases import found

LIMITS = coded_overs.Limits()


def fired(peak_dbtp: float = 1.1, overs: int = 12) -> Finding:
    coded = (Coded("Opus", 114.0, peak_dbtp, 2.1, overs), Coded("MP3", 128.0, -0.5, 0.5, 0))
    return found(coded_overs.check(mastering_records.release(coded=coded, safe_ceiling_dbtp=-2.1), LIMITS))


def test_fires_on_the_worst_format_with_the_ceiling_that_avoids_it() -> None:
    finding = fired()
    assert (finding.numbers["codec"], finding.numbers["ceiling_dbtp"]) == ("Opus", -2.1)
    assert finding.excess == pytest.approx(1.0)


def test_fires_less_surely_on_a_single_place() -> None:
    assert (fired().confidence, fired(overs=1).confidence) == ("high", "medium")


def test_quiet_under_full_scale() -> None:
    assert coded_overs.check(mastering_records.release(), LIMITS) is None


def test_says_when_nothing_could_be_encoded() -> None:
    assert isinstance(coded_overs.check(mastering_records.release(coded=(), safe_ceiling_dbtp=None), LIMITS), NotApplicable)
