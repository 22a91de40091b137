"""Loud stretches whose 2-5 kHz share stands above the song's own median (0.27 in these records)."""

import pytest

from features.records.base import Absence, Course, Moment, Span
from rules.base import Finding
from rules.mixing.tone import harsh_moments
from tests import records
from tests.rule_cases import found, reason

LIMITS = harsh_moments.Limits()
WORST = Moment(80.0, 82.0, 0.5)


def fired(*moments: Moment) -> Finding:
    return found(harsh_moments.check(records.ear(harsh_moments=moments or (WORST,)), records.spectrum(), LIMITS))


def test_fires_with_the_worst_share_the_usual_one_and_the_seconds() -> None:
    finding = fired(WORST, Moment(100.0, 101.0, 0.44), Moment(110.0, 115.0, 0.41))
    assert (finding.numbers["share"], finding.numbers["usual"], finding.numbers["total_s"]) == (0.5, 0.27, 3.0)
    assert finding.where == (Span(80.0, 82.0), Span(100.0, 101.0))
    assert finding.excess == pytest.approx((0.5 - 0.27 - 0.15) / 0.1)


@pytest.mark.parametrize("worst", [0.56, 0.7])
def test_fires_as_a_hint_however_harsh(worst: float) -> None:
    assert fired(Moment(80.0, 82.0, worst)).confidence == "low"


def test_fires_with_a_band_that_acts_3_db_above_its_usual_level() -> None:
    remedy = fired().remedy
    # the bands reach from 1.78 to 5.62 kHz (35.8 dB of width); their power per Hz lies from -62.5 to -69 dBFS: -29.9 dBFS in all
    assert remedy is not None
    assert remedy.kind == "dynamic_bell"
    assert remedy.gain_db == -3.0
    assert remedy.threshold_dbfs == pytest.approx(-29.9 + 3.0, abs=0.1)


@pytest.mark.parametrize("moments", [(), (Moment(80.0, 95.0, 0.41),), (Moment(80.0, 81.9, 0.5),)])
def test_quiet_when_they_are_small_or_short(moments: tuple[Moment, ...]) -> None:
    assert harsh_moments.check(records.ear(harsh_moments=moments), records.spectrum(), LIMITS) is None


def test_quiet_in_a_dark_song_whose_moments_are_ordinary() -> None:
    ear = records.ear(share=Course("0-1", 0.0, 0.5, (0.15,) * 400), harsh_moments=(Moment(80.0, 90.0, 0.34),))
    assert harsh_moments.check(ear, records.spectrum(), LIMITS) is None


def test_not_applicable_when_nothing_plays() -> None:
    ear = records.ear(share=Course("0-1", 0.0, 0.5, ()), absent=(Absence("share", "the file is silent"),))
    assert reason(harsh_moments.check(ear, records.spectrum(), LIMITS)) == "the file is silent"
