"""Clean loudness against the loudness asked for (-13 LUFS in these records), and what the peaks are made of."""

from math import sqrt

import pytest

from features.records.base import Absence, Span
from features.records.crest import Crest
from features.records.outlook import Outlook, PeakShare
from rules.base import Finding
from rules.mixing.loudness import short_of_target
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = short_of_target.Limits()
SUB = (PeakShare(22.0, 44.0, 0.1), PeakShare(44.0, 88.0, 0.5), PeakShare(88.0, 177.0, 0.2))
LOWS = (PeakShare(22.0, 44.0, 0.1), PeakShare(44.0, 88.0, 0.32), PeakShare(88.0, 177.0, 0.28))


def short(clean_lufs: float = -15.5, fast_lufs: float | None = -15.0, **changes: object) -> Outlook:
    return records.outlook(
        **{"clean_lufs": clean_lufs, "margin_lu": clean_lufs + 13.0, "reaches_target": False, "fast_clean_lufs": fast_lufs, **changes}
    )


def fired(outlook: Outlook | None = None, crest: Crest | None = None) -> Finding:
    return found(short_of_target.check(outlook or short(peak_share=SUB), crest or records.crest(), LIMITS))


def test_fires_with_what_is_reached_what_is_missing_and_what_stops_it() -> None:
    finding = fired()
    assert (finding.numbers["clean_lufs"], finding.numbers["short_lu"], finding.numbers["target_lufs"]) == (-15.5, 2.5, -13.0)
    assert "starts to pump" in str(finding.numbers["stops"])
    assert finding.excess == pytest.approx(2.0)
    assert finding.where == (Span(130.0, 131.0),)


@pytest.mark.parametrize(("shares", "low_hz", "high_hz", "percent"), [(SUB, 44.0, 88.0, "50%"), (LOWS, 44.0, 177.0, "60%")])
def test_fires_with_the_band_that_uses_up_the_headroom(shares: tuple[PeakShare, ...], low_hz: float, high_hz: float, percent: str) -> None:
    finding = fired(short(peak_share=shares))
    assert (finding.cause, finding.band_hz) == ("excess", (low_hz, high_hz))
    assert percent in str(finding.numbers["peaks"])
    assert finding.remedy is not None
    assert finding.remedy.frequency_hz == pytest.approx(sqrt(low_hz * high_hz))
    assert finding.remedy.gain_db == -2.0


def test_fires_with_a_high_pass_when_what_lies_below_hearing_uses_up_the_headroom() -> None:
    shares = (PeakShare(0.0, 20.0, 0.5), PeakShare(20.0, 60.0, 0.45))
    finding = fired(short(peak_share=shares))
    assert finding.remedy == Remedy(kind="high_pass", frequency_hz=15.0, order=2)
    assert "50%" in str(finding.numbers["peaks"])
    assert finding.title is not None


def test_fires_with_the_octave_when_little_lies_below_hearing() -> None:
    finding = fired(short(peak_share=(PeakShare(0.0, 20.0, 0.35), PeakShare(20.0, 60.0, 0.45))))
    assert finding.band_hz == (20.0, 60.0)


def test_fires_with_a_ceiling_when_rare_peaks_stand_out_and_no_band_does() -> None:
    finding = fired(short(), records.crest(stray_height_db=4.0, ordinary_peak_dbfs=-7.0))
    assert (finding.cause, finding.band_hz) == ("peaks", None)
    assert finding.remedy == Remedy(kind="peak_limiter", ceiling_dbfs=-6.5)


def test_fires_with_glue_when_nothing_stands_out() -> None:
    finding = fired(short())
    assert finding.cause == "density"
    assert finding.remedy is not None
    assert (finding.remedy.kind, finding.remedy.part, finding.remedy.threshold_dbfs) == ("compressor", "percussive", -11.0)


@pytest.mark.parametrize(
    ("clean_lufs", "fast_lufs", "confidence"),
    [
        (-15.5, -15.0, "high"),
        (-13.9, -13.8, "medium"),
        (-15.5, None, "medium"),
        (-15.5, -12.9, "low"),
        (-15.5, -13.5, "low"),
        (-15.5, -13.6, "high"),
    ],
)
def test_fires_as_sure_as_a_second_limiter_setting_allows(clean_lufs: float, fast_lufs: float | None, confidence: str) -> None:
    assert fired(short(clean_lufs, fast_lufs)).confidence == confidence


@pytest.mark.parametrize("stopped_by", ["distortion", "pumping", "hits", "density", "none"])
def test_fires_in_words_for_every_reading_that_may_stop_it(stopped_by: str) -> None:
    assert fired(short(stopped_by=stopped_by)).numbers["stops"] == short_of_target.STOPS[stopped_by]


@pytest.mark.parametrize("clean_lufs", [-13.5, -13.0, -9.0])
def test_quiet_at_the_limit_and_above_the_target(clean_lufs: float) -> None:
    assert short_of_target.check(short(clean_lufs), records.crest(), LIMITS) is None


def test_not_applicable_without_an_outlook() -> None:
    silent = records.outlook(clean_lufs=None, absent=(Absence("clean_lufs", "the file is silent"),))
    assert reason(short_of_target.check(silent, records.crest(), LIMITS)) == "the file is silent"
