"""A limiter at work: peaks at one height and little room above the loudness, both."""

import pytest

from features.records.base import Absence
from rules.base import Finding
from rules.mixing.distortion import limiter_already_working
from tests import records
from tests.rule_cases import found, reason

LIMITS = limiter_already_working.Limits()


def fired(pileup: float = 0.15) -> Finding:
    readings = (records.crest(peak_pileup_share=pileup), records.level(psr_densest_db=9.5), records.sections())
    return found(limiter_already_working.check(*readings, LIMITS))


@pytest.mark.parametrize(("pileup", "excess", "confidence"), [(0.15, 2.0, "high"), (0.06, 0.5, "medium")])
def test_fires_with_both_signs(pileup: float, excess: float, confidence: str) -> None:
    finding = fired(pileup)
    assert finding.numbers == {"pileup": pileup, "psr_db": 9.5}
    assert finding.excess == pytest.approx(excess)
    assert finding.confidence == confidence
    assert finding.where == (records.CHORUS,)
    assert finding.remedy is None, "what was limited cannot be given back"


def test_fires_on_peaks_that_a_conversion_has_spread_but_never_as_surely() -> None:
    crest = records.crest(peak_pileup_share=0.002, peak_cluster_share=0.2)
    finding = found(limiter_already_working.check(crest, records.level(psr_densest_db=9.5), records.sections(), LIMITS))
    assert (finding.numbers["pileup"], finding.confidence) == (0.2, "medium")
    assert finding.excess == pytest.approx(2.0)


def test_quiet_on_a_slight_cluster_and_where_there_is_room() -> None:
    for share, psr_db in ((0.08, 8.0), (0.5, 12.0)):
        crest = records.crest(peak_pileup_share=0.002, peak_cluster_share=share)
        assert limiter_already_working.check(crest, records.level(psr_densest_db=psr_db), records.sections(), LIMITS) is None


@pytest.mark.parametrize(("pileup", "psr_db"), [(0.03, 8.0), (0.3, 12.0)])
def test_quiet_on_one_sign_alone_and_at_the_limits(pileup: float, psr_db: float) -> None:
    readings = (records.crest(peak_pileup_share=pileup), records.level(psr_densest_db=psr_db), records.sections())
    assert limiter_already_working.check(*readings, LIMITS) is None


def test_not_applicable_to_silence() -> None:
    silent = records.crest(peak_pileup_share=None, absent=(Absence("peak_pileup_share", "the file is silent"),))
    assert reason(limiter_already_working.check(silent, records.level(), records.sections(), LIMITS)) == "the file is silent"
