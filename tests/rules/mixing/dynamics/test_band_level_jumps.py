"""A region that jumps: hits that vary, and a level that leaps or spreads, in one octave."""

import pytest

from features.records.base import Moment
from features.records.crest import Crest
from rules.base import Finding
from rules.mixing.dynamics import band_level_jumps
from tests import records
from tests.rule_cases import found, reason

LIMITS = band_level_jumps.Limits()
MIDS = 5  # the octave around 1 kHz


def crest(jump_db: float = 2.0, spread_db: float = 5.0, variation_db: float = 2.0, *, place: int = MIDS) -> Crest:
    ordinary = records.crest()

    def put(values: tuple[object, ...], value: object) -> tuple[object, ...]:
        return (*values[:place], value, *values[place + 1 :])

    return records.crest(
        widest_jump=put(ordinary.widest_jump, Moment(40.0, 46.0, jump_db)),
        spread_db=put(ordinary.spread_db, spread_db),
        hit_variation_db=put(ordinary.hit_variation_db, variation_db),
    )


def fired(jump_db: float = 21.0, spread_db: float = 5.0, variation_db: float = 8.5) -> Finding:
    return found(band_level_jumps.check(crest(jump_db, spread_db, variation_db), LIMITS))


def test_fires_on_two_signs_and_says_both() -> None:
    finding = fired()
    assert finding.numbers["what"] == "The level jumps by 21 dB from one moment to the next. Hits vary by 8 dB"
    assert (finding.numbers["frequency"], finding.numbers["region"]) == ("1 kHz", "mids")
    assert finding.excess == pytest.approx(1.0)
    assert finding.confidence == "low"
    assert [span.start_s for span in finding.where] == [40.0]
    assert finding.band_hz == pytest.approx((707.1, 1414.2), abs=0.1)


def test_fires_on_a_wide_spread_as_well_and_says_all_three_but_is_no_surer() -> None:
    assert fired(2.0, 27.0).numbers["what"] == "The level ranges over 27 dB. Hits vary by 8 dB"
    finding = fired(21.0, 27.0)
    assert str(finding.numbers["what"]).count(". ") == 2
    assert finding.confidence == "low"


def test_fires_with_a_ride_of_half_the_reading_kept_within_reason() -> None:
    assert fired(2.0, 25.0, variation_db=8.0).numbers["ride_db"] == 6.0


@pytest.mark.parametrize("readings", [(20.0, 5.0, 2.0), (2.0, 30.0, 2.0), (24.0, 34.0, 7.0), (2.0, 5.0, 12.0), (18.0, 24.0, 12.0)])
def test_quiet_without_hits_that_vary_on_hits_alone_and_at_the_limits(readings: tuple[float, float, float]) -> None:
    assert band_level_jumps.check(crest(*readings), LIMITS) is None


@pytest.mark.parametrize("place", [2, 9])
def test_quiet_about_the_lows_and_the_top_octave(place: int) -> None:
    assert band_level_jumps.check(crest(21.0, 25.0, 9.0, place=place), LIMITS) is None


def test_quiet_where_the_signs_stand_in_different_octaves() -> None:
    jumpy, varied = crest(jump_db=21.0), crest(variation_db=9.0, place=4)
    both = records.crest(widest_jump=jumpy.widest_jump, hit_variation_db=varied.hit_variation_db)
    assert band_level_jumps.check(both, LIMITS) is None


def test_not_applicable_where_no_part_is_long_enough() -> None:
    assert reason(band_level_jumps.check(records.crest(spread_db=(None,) * 10), LIMITS)) == "no part is long enough to tell"
