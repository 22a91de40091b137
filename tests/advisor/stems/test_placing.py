"""A move on the whole mix goes to the element that carries the fault, where one does."""

from dataclasses import replace

import pytest

from advisor.judging.judge import Card
from advisor.stems.placing import better_place, placed
from features.records.elements import Element
from rules.remedy import Remedy
from tests import records
from tests.advisor.samples import finding, rule_that

CUT = Remedy("bell", frequency_hz=250.0, gain_db=-3.0, q=1.4)


def louder(name: str, low_hz: float, high_hz: float, by_db: float) -> Element:
    """Return an ordinary element with more in a band."""
    element = records.element(name)
    curve = zip(element.level.third_octave_hz, element.level.third_octave_db, strict=True)
    return replace(element, level=replace(element.level, third_octave_db=tuple(db + by_db * (low_hz <= hz <= high_hz) for hz, db in curve)))


def test_a_cut_goes_to_the_element_that_carries_the_band_and_takes_as_much_from_the_sum() -> None:
    remedy = better_place(CUT, records.elements(louder("pad", 150.0, 400.0, 25.0)))
    assert remedy is not None
    assert (remedy.part, remedy.kind, remedy.frequency_hz, remedy.q) == ("pad", "bell", 250.0, 1.4)
    assert -4.0 < (remedy.gain_db or 0.0) <= -3.0


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
    moved = better_place(remedy, records.elements())
    assert (None if moved is None else moved.part) == part


def test_the_move_on_the_mix_is_still_tried_after_it() -> None:
    muddy = replace(finding(1.0), remedy=CUT)
    card = Card(rule_that(muddy), muddy)
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
    element = records.element(name)
    return replace(element, level=replace(element.level, pan_db=pan_db))


def test_a_lean_that_one_element_brings_in_is_turned_back_there_and_nowhere_else() -> None:
    leaning = replace(finding(1.0), remedy=Remedy("gain", "left", gain_db=-1.9))
    card = Card(rule_that(leaning), leaning)
    moved = placed(card, records.elements(panned("pad", -4.4), panned("kick", 0.0))).finding
    assert moved.remedy == Remedy("pan", "pad", gain_db=4.4)
    assert moved.others == ()


LEFT_DOWN = replace(finding(1.0), remedy=Remedy("gain", "left", gain_db=-1.9))


def remedy_for(*elements: Element) -> Remedy | None:
    """Return what becomes of a left side turned down, with these elements and no others."""
    song = replace(records.elements(), elements=elements)
    return placed(Card(rule_that(LEFT_DOWN), LEFT_DOWN), song).finding.remedy


def test_a_lean_that_all_share_turns_the_side_down_by_as_much_as_they_lean() -> None:
    same = [replace(panned("pad", -2.0), name=name) for name in ("a", "b", "c", "d")]
    assert remedy_for(*same) == Remedy("gain", "left", gain_db=-2.0)


def test_where_kick_bass_and_snare_lean_alike_no_single_element_is_turned() -> None:
    """A snare that stood 3 dB to the right before the fault, and a pad far out, are not what leans."""
    leaning = [panned("kick", -4.0), panned("bass", -4.0), panned("snare", -1.0), panned("pad", -12.0)]
    assert remedy_for(*leaning) == Remedy("gain", "left", gain_db=-4.0)


def test_a_bass_that_leans_while_the_kick_does_not_is_turned_alone() -> None:
    assert remedy_for(panned("kick", 0.0), panned("bass", -4.4), panned("hats", 0.1)) == Remedy("pan", "bass", gain_db=4.4)
