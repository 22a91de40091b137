"""True peaks above full scale, and what the kind of file makes of them."""

import pytest

from features.records.base import Absence, Moment, Span
from rules.base import Finding
from rules.delivery import true_peak_overs
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = true_peak_overs.Limits()


def fired(subtype: str = "PCM_24", peak_dbtp: float = 1.5, *, lossy: bool = False) -> Finding:
    overs = (Moment(12.0, 12.01, peak_dbtp),)
    level = records.level(true_peak_dbtp=peak_dbtp, peaks_over_full_scale=overs)
    return found(true_peak_overs.check(level, records.file(subtype=subtype, lossy=lossy), LIMITS))


def test_fires_with_a_fader_move_that_leaves_one_decibel() -> None:
    finding = fired()
    assert finding.numbers == {"peak_dbtp": 1.5, "over_db": 1.5, "turn_db": 2.5, "room_dbtp": -1.0, "kind": "", "most": "full scale"}
    assert finding.excess == pytest.approx(1.5)
    assert finding.confidence == "high"
    assert finding.remedy == Remedy(kind="gain", gain_db=-2.5)
    assert finding.where == (Span(12.0, 12.01),)


@pytest.mark.parametrize("subtype", ["FLOAT", "DOUBLE"])
def test_fires_lightly_on_a_float_file_which_has_lost_nothing(subtype: str) -> None:
    finding = fired(subtype, 6.0)
    assert (finding.excess, finding.confidence) == (0.5, "low")
    assert "nothing is lost" in str(finding.numbers["kind"])


def test_fires_lightly_on_a_lossy_file_whose_encoder_raised_the_peaks() -> None:
    finding = fired("MPEG_LAYER_III", 6.0, lossy=True)
    assert (finding.excess, finding.confidence) == (0.5, "low")
    assert "encoding" in str(finding.numbers["kind"])


@pytest.mark.parametrize("peak_dbtp", [-1.0, 0.0])
def test_quiet_up_to_full_scale(peak_dbtp: float) -> None:
    assert true_peak_overs.check(records.level(true_peak_dbtp=peak_dbtp), records.file(), LIMITS) is None


def test_not_applicable_to_silence() -> None:
    silent = records.level(true_peak_dbtp=None, absent=(Absence("true_peak_dbtp", "the file is silent"),))
    assert reason(true_peak_overs.check(silent, records.file(), LIMITS)) == "the file is silent"
