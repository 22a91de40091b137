"""A change of tone between mix and master."""

import pytest

from features.records.mastering import ToneChange
from rules.base import Finding, NotApplicable
from rules.mastering import tone_changed
from tests import mastering_records
from tests.rule_cases import found

LIMITS = tone_changed.Limits()


BRIGHT = ToneChange(5000.0, 12500.0, 8000.0, 2.6)


def fired(change: ToneChange = BRIGHT, tilt: float = 0.1) -> Finding:
    record = mastering_records.mastered(tone_changes=(change,), tilt_change_db_per_octave=tilt)
    return found(tone_changed.check(record, LIMITS))


def test_fires_on_a_raised_treble_and_takes_it_back() -> None:
    finding = fired()
    assert finding.numbers["what"] == "brighter"
    assert finding.excess == pytest.approx(1.1)
    assert finding.remedy is not None
    assert (finding.remedy.frequency_hz, finding.remedy.gain_db) == (8000.0, -2.6)
    assert finding.band_hz == (5000.0, 12500.0)


def test_fires_on_a_slope_alone() -> None:
    assert fired(ToneChange(5000.0, 16000.0, 10000.0, 1.2), tilt=0.7).excess == pytest.approx(1.0)


def test_fires_with_the_word_for_the_lows() -> None:
    assert fired(ToneChange(60.0, 150.0, 90.0, -2.0)).numbers["what"] == "thinner in the lows"


def test_quiet_when_nothing_moved_past_what_is_heard() -> None:
    small = ToneChange(5000.0, 12500.0, 8000.0, 1.4)
    assert tone_changed.check(mastering_records.mastered(tone_changes=(small,)), LIMITS) is None
    assert tone_changed.check(mastering_records.mastered(), LIMITS) is None


def test_says_when_it_cannot_judge() -> None:
    assert isinstance(tone_changed.check(mastering_records.mastered(tilt_change_db_per_octave=None), LIMITS), NotApplicable)
