"""A move on the whole mix goes to the element that carries the fault, where one does."""

from dataclasses import replace

import pytest

from advisor.judging.judge import Card
from advisor.stems.placing import better_place, placed
from features.records.elements import Attribution, Element, ElementShare
from rules.remedy import Remedy
from tests import records
from tests.advisor.samples import finding, rule_that

CUT = Remedy("bell", frequency_hz=250.0, gain_db=-3.0, q=1.4)


def louder(name: str, low_hz: float, high_hz: float, by_db: float) -> Element:
    """Return an ordinary element with more in a band."""
    one = records.element(name)
    curve = zip(one.level.third_octave_hz, one.level.third_octave_db, strict=True)
    return replace(one, level=replace(one.level, third_octave_db=tuple(db + by_db * (low_hz <= hz <= high_hz) for hz, db in curve)))


def test_a_cut_goes_to_the_element_that_carries_the_band_and_takes_as_much_from_the_sum() -> None:
    found = better_place(CUT, records.elements(louder("pad", 150.0, 400.0, 25.0)))
    assert found is not None
    assert (found.part, found.kind, found.frequency_hz, found.q) == ("pad", "bell", 250.0, 1.4)
    assert -4.0 < (found.gain_db or 0.0) <= -3.0


def test_where_no_element_carries_half_of_it_the_move_stays_on_the_mix() -> None:
    shared = replace(CUT, frequency_hz=500.0)  # pad and lead have nearly the same there, and the snare some
    assert better_place(shared, records.elements()) is None


def test_what_sustains_is_never_a_drum() -> None:
    kick = records.elements(louder("kick", 150.0, 400.0, 40.0))
    on_all = better_place(CUT, kick)
    assert on_all is not None
    assert on_all.part == "kick"
    on_sustained = better_place(replace(CUT, part="sustained"), kick)
    assert on_sustained is None or on_sustained.part != "kick"


@pytest.mark.parametrize(
    ("remedy", "part"),
    [
        (Remedy("gain", "percussive", gain_db=4.0), "drums"),
        (Remedy("gain", "left", gain_db=-1.0), None),
        (Remedy("bell", frequency_hz=250.0, gain_db=3.0, q=1.0), None),
        (Remedy("bell", "side", frequency_hz=250.0, gain_db=-3.0, q=1.0), None),
        (Remedy("peak_limiter", ceiling_dbfs=-6.0), None),
    ],
)
def test_other_moves(remedy: Remedy, part: str | None) -> None:
    found = better_place(remedy, records.elements())
    assert (None if found is None else found.part) == part


def test_the_move_on_the_mix_is_still_tried_after_it() -> None:
    one = replace(finding(1.0), remedy=CUT)
    card = Card(rule_that(one), one)
    moved = placed(card, records.elements(louder("pad", 150.0, 400.0, 25.0)))
    assert moved.finding.remedy is not None
    assert moved.finding.remedy.part == "pad"
    assert moved.finding.others == (CUT,)
    assert moved.is_about(card)


def test_a_shelf_goes_to_the_element_that_carries_what_its_finding_speaks_of() -> None:
    shelf = Remedy("low_shelf", frequency_hz=250.0, gain_db=-3.0, q=0.5)
    both = records.elements(louder("kick", 20.0, 60.0, 40.0), louder("pad", 200.0, 400.0, 30.0))
    anywhere, there = better_place(shelf, both), better_place(shelf, both, (100.0, 400.0))
    assert anywhere is not None
    assert there is not None
    assert (anywhere.part, there.part) == ("kick", "pad")


def panned(name: str, pan_db: float) -> Element:
    one = records.element(name)
    return replace(one, level=replace(one.level, pan_db=pan_db))


def carried(name: str, remedy: Remedy) -> Card:
    """Return a card with a move on the mix, laid on an element."""
    one = replace(finding(1.0), remedy=remedy)
    return Card(rule_that(one), one, attribution=Attribution("element", (ElementShare(name, 0.8),), 0.0))


def test_a_lean_that_one_element_brings_in_is_turned_back_there_and_nowhere_else() -> None:
    card = carried("pad", Remedy("gain", "left", gain_db=-1.9))
    moved = placed(card, records.elements(panned("pad", -4.4), panned("kick", 0.0))).finding
    assert moved.remedy == Remedy("pan", "pad", gain_db=4.4)
    assert moved.others == ()


def test_a_cut_goes_to_the_element_that_its_reading_was_laid_on() -> None:
    card = carried("lead", CUT)
    moved = placed(card, records.elements(louder("pad", 150.0, 400.0, 25.0))).finding.remedy
    assert moved is not None
    assert moved.part == "lead"


@pytest.mark.parametrize(
    ("remedy", "moved"),
    [
        (Remedy("side_gain", "side", gain_db=-3.0), Remedy("side_gain", "pad", gain_db=-3.0)),
        (Remedy("mono_below", frequency_hz=120.0), Remedy("mono_below", "pad", frequency_hz=120.0)),
        (Remedy("peak_limiter", ceiling_dbfs=-6.0), Remedy("peak_limiter", "pad", ceiling_dbfs=-9.5)),
        (Remedy("polarity", "right"), Remedy("polarity", "right")),
    ],
)
def test_other_moves_go_to_the_element_where_it_can_take_them(remedy: Remedy, moved: Remedy) -> None:
    found = placed(carried("pad", remedy), records.elements(), lambda _name: -10.0).finding
    assert found.remedy == moved
    assert found.others == ((remedy,) if moved != remedy else ())


def test_a_lean_that_several_share_stays_a_move_on_the_mix() -> None:
    one = replace(finding(1.0), remedy=Remedy("gain", "left", gain_db=-1.9))
    card = Card(rule_that(one), one)
    same = [replace(panned(name, -2.0), name=name) for name in ("a", "b", "c", "d")]
    shared = replace(records.elements(), elements=tuple(same))
    assert placed(card, shared) == card
