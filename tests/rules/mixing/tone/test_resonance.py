"""A narrow peak, held against what is heard at its width."""

import pytest

from features.records.base import Absence, Span
from features.records.spectrum import Resonance
from rules.base import Finding
from rules.mixing.tone import resonance
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = resonance.Limits()


def peak(prominence_db: float, frequency_hz: float = 812.0, q: float = 10.0, present_share: float = 0.6) -> Resonance:
    return Resonance(frequency_hz, prominence_db, present_share, q, (Span(40.0, 44.0),))


def fired(*peaks: Resonance) -> Finding:
    return found(resonance.check(records.spectrum(resonances=peaks or (peak(8.0),)), LIMITS))


def test_fires_with_frequency_height_and_how_often() -> None:
    finding = fired()
    assert (finding.numbers["frequency_hz"], finding.numbers["prominence_db"], finding.numbers["present_share"]) == (812.0, 8.0, 0.6)
    assert finding.excess == pytest.approx(1.5)
    assert finding.remedy == Remedy(kind="bell", frequency_hz=812.0, gain_db=-4.0, q=10.0)
    assert finding.where == (Span(40.0, 44.0),)


def test_fires_on_the_one_that_is_heard_most_not_on_the_highest() -> None:
    assert fired(peak(7.5, q=50.0, frequency_hz=3000.0), peak(6.5, frequency_hz=500.0)).numbers["frequency_hz"] == 500.0


@pytest.mark.parametrize(("frequency_hz", "confidence"), [(199.0, "low"), (201.0, "medium")])
def test_fires_less_surely_where_it_may_be_a_note(frequency_hz: float, confidence: str) -> None:
    assert fired(peak(8.0, frequency_hz)).confidence == confidence


@pytest.mark.parametrize("narrow_peak", [peak(5.0), peak(7.0, q=50.0), peak(9.0, present_share=0.39), peak(12.0, 8001.0)])
def test_quiet_at_the_limit_for_its_width_when_it_comes_and_goes_and_far_up(narrow_peak: Resonance) -> None:
    assert resonance.check(records.spectrum(resonances=(narrow_peak,)), LIMITS) is None


def test_not_applicable_to_silence() -> None:
    silent = records.spectrum(level_db=None, absent=(Absence("level_db", "the song is silent"),))
    assert reason(resonance.check(silent, LIMITS)) == "the song is silent"
