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


def carried(name: str, remedy: Remedy) -> Card:
    """Return a card with a move on the mix, laid on an element."""
    about_mix = replace(finding(1.0), remedy=remedy)
    return Card(rule_that(about_mix), about_mix, attribution=Attribution("element", (ElementShare(name, 0.8),), 0.0))


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
    moved_finding = placed(carried("pad", remedy), records.elements(), lambda _name: -10.0).finding
    assert moved_finding.remedy == moved
    assert moved_finding.others == ((remedy,) if moved != remedy else ())


LEFT_DOWN = replace(finding(1.0), remedy=Remedy("gain", "left", gain_db=-1.9))


def remedy_for(*elements: Element, carrier: str | None = None) -> Remedy | None:
    """Return what becomes of a left side turned down, with these elements and no others, laid on one of them or on none."""
    song = replace(records.elements(), elements=elements)
    card = Card(rule_that(LEFT_DOWN), LEFT_DOWN) if carrier is None else carried(carrier, Remedy("gain", "left", gain_db=-1.9))
    return placed(card, song).finding.remedy


def test_a_lean_that_all_share_turns_the_side_down_by_as_much_as_they_lean() -> None:
    same = [replace(panned("pad", -2.0), name=name) for name in ("a", "b", "c", "d")]
    assert remedy_for(*same) == Remedy("gain", "left", gain_db=-2.0)


def test_where_kick_bass_and_snare_lean_alike_no_single_element_is_turned() -> None:
    """A snare that stood 3 dB to the right before the fault, and a pad far out, are not what leans."""
    leaning = [panned("kick", -4.0), panned("bass", -4.0), panned("snare", -1.0), panned("pad", -12.0)]
    assert remedy_for(*leaning, carrier="pad") == Remedy("gain", "left", gain_db=-4.0)


def test_a_bass_that_leans_while_the_kick_does_not_is_turned_alone() -> None:
    assert remedy_for(panned("kick", 0.0), panned("bass", -4.4), panned("hats", 0.1), carrier="bass") == Remedy("pan", "bass", gain_db=4.4)


def test_what_the_stems_leave_of_the_mix_is_mended_on_the_mix() -> None:
    card = replace(carried("pad", CUT), attribution=Attribution("left over", (), 0.9))
    assert placed(card, records.elements(louder("pad", 150.0, 400.0, 25.0))) == card
