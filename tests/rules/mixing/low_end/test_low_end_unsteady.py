"""Three signs of an unsteady low end, of which two must agree."""

import pytest

from features.records.base import Absence, Moment
from features.records.crest import Crest
from features.records.low_end import LowEnd
from rules.base import Finding
from rules.mixing.low_end import low_end_unsteady
from tests import records
from tests.rule_cases import found, reason

LIMITS = low_end_unsteady.Limits()
NOTES = records.low_end(note_spread_db=17.5)
BOTH = records.low_end(note_spread_db=17.5, uneven=(Moment(96.0, 102.0, 12.0),))
HITS = records.crest(hit_variation_db=(2.0, 11.0, *(2.0,) * 8))
EVEN = records.crest()


def fired(low_end: LowEnd = NOTES, crest: Crest = HITS) -> Finding:
    return found(low_end_unsteady.check(low_end, crest, records.spectrum(), LIMITS))


def test_fires_on_two_signs_with_both_in_numbers() -> None:
    finding = fired()
    assert finding.numbers["what"] == "sustained notes differ by 17.5 dB, and hits vary by 11.0 dB"
    assert finding.excess == pytest.approx(1.0)
    assert finding.confidence == "low"


def test_fires_more_surely_on_three() -> None:
    finding = fired(BOTH)
    assert finding.confidence == "medium"
    assert "the level jumps by up to 12.0 dB" in str(finding.numbers["what"])
    assert [span.start_s for span in finding.where] == [96.0]


def test_fires_with_a_compressor_on_what_sustains_just_above_its_usual_level() -> None:
    remedy = fired().remedy
    # seven bands from 28 to 141 Hz, 113 Hz in all (20.5 dB), 15 to 23.5 dB over -58 dBFS per Hz: -17.1 dBFS in all
    assert remedy is not None
    assert (remedy.kind, remedy.part, remedy.ratio) == ("compressor", "sustained", 2.5)
    assert remedy.threshold_dbfs == pytest.approx(-17.1 + 2.0, abs=0.1)


@pytest.mark.parametrize(("low_end", "crest"), [(NOTES, EVEN), (records.low_end(note_spread_db=14.5), HITS)])
def test_quiet_on_one_sign_and_at_the_limit(low_end: LowEnd, crest: Crest) -> None:
    assert low_end_unsteady.check(low_end, crest, records.spectrum(), LIMITS) is None


def test_quiet_about_a_bass_that_rests() -> None:
    rests = records.low_end(note_spread_db=17.5, uneven=(Moment(96.0, 102.0, 30.0),))
    assert low_end_unsteady.check(rests, EVEN, records.spectrum(), LIMITS) is None


def test_quiet_about_hits_below_and_above_the_kick() -> None:
    high = records.crest(hit_variation_db=(12.0, 2.0, 2.0, *(12.0,) * 7))
    assert low_end_unsteady.check(NOTES, high, records.spectrum(), LIMITS) is None


def test_not_applicable_without_a_low_end() -> None:
    none = records.low_end(note_spread_db=None, uneven=(), absent=(Absence("note_spread_db", "nothing sustains below 250 Hz"),))
    assert reason(low_end_unsteady.check(none, HITS, records.spectrum(), LIMITS)) == "nothing sustains below 250 Hz"
