"""One element that hides another in a band."""

from dataclasses import replace
from math import sqrt

import pytest

from features.records.base import Span
from features.records.elements import Cover, Element, Elements
from rules.base import Finding
from rules.mixing.balance import element_too_loud, element_too_quiet
from rules.mixing.masking import element_covered, element_inaudible
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_covered.Limits()
LOW_MIDS = (250.0, 640.0)


def cover(by: str = "pad", **changes: object) -> Cover:
    ordinary: dict[str, object] = {"share": 0.5, "band_hz": LOW_MIDS, "excess_db": 8.0, "essential": False}
    return records.cover(by, **{**ordinary, **changes})


def covered(name: str = "lead", *covers: Cover, **changes: object) -> Element:
    return records.element(name, masking={"covered_by": covers or (cover(),)}, **changes)


def fired(song: Elements | None = None) -> Finding:
    return found_all(element_covered.check(song or records.elements(covered()), LIMITS))[0]


def test_fires_with_both_names_the_band_and_the_place() -> None:
    finding = fired()
    assert (finding.title, finding.stem, finding.band_hz) == ("'pad' masks 'lead'", "lead", LOW_MIDS)
    wanted = {"hidden": 0.5, "low": "250 Hz", "high": "640 Hz", "above_db": 8.0, "essential": "not essential"}
    assert {name: finding.numbers[name] for name in wanted} == wanted
    assert finding.where == (Span(125.0, 130.0), Span(126.0, 131.0))
    assert finding.excess == pytest.approx(1.5)  # (0.5 - 0.35) / 0.1


def test_fires_with_a_cut_where_the_cover_can_spare_the_band_and_the_easier_ways_beside_it() -> None:
    finding = fired()
    centre_hz = sqrt(LOW_MIDS[0] * LOW_MIDS[1])
    assert finding.remedy == Remedy("bell", "pad", frequency_hz=centre_hz, gain_db=-4.0, q=round(centre_hz / 390.0, 2))
    assert finding.others == (Remedy("gain", "lead", gain_db=4.0), Remedy("pan", "pad", gain_db=6.0))


def test_fires_without_an_equaliser_where_the_cover_lives_from_the_band() -> None:
    finding = fired(records.elements(covered("lead", cover(essential=True))))
    assert finding.remedy == Remedy("gain", "lead", gain_db=4.0)
    assert [remedy.kind for remedy in finding.others] == ["gain", "pan"]
    assert finding.confidence == "low"


@pytest.mark.parametrize(
    ("name", "by", "band_hz", "pan_db"),
    [
        ("snare", "kick", LOW_MIDS, None),  # the kick stays where it is, the other one moves
        ("lead", "pad", (80.0, 160.0), None),  # low sounds stay in the centre
        ("lead", "pad", LOW_MIDS, 8.0),  # they stand apart already
    ],
)
def test_fires_with_a_pan_only_where_it_parts_them(name: str, by: str, band_hz: tuple[float, float], pan_db: float | None) -> None:
    song = records.elements(covered(name, cover(by, band_hz=band_hz), level={"pan_db": pan_db}))
    moved = {remedy.part for remedy in fired(song).others if remedy.kind == "pan"}
    assert moved == ({"snare"} if by == "kick" else set())


def test_fires_with_no_pan_for_two_that_both_belong_in_the_centre() -> None:
    song = records.elements(covered("lead", cover("bass"), role="vocal"))
    assert "pan" not in {remedy.kind for remedy in fired(song).others}


@pytest.mark.parametrize(
    ("name", "role", "confidence"),
    [("lead", "lead", "medium"), ("lead", "pad", "low"), ("hats", "hats", "low"), ("snare", "snare", "medium")],
)
def test_fires_more_surely_for_what_stands_in_front(name: str, role: str, confidence: str) -> None:
    assert fired(records.elements(covered(name, role=role))).confidence == confidence


@pytest.mark.parametrize("changes", [{"share": 0.35}, {"band_share": 0.39}, {"excess_db": 2.9}])
def test_quiet_up_to_each_limit(changes: dict[str, float]) -> None:
    assert element_covered.check(records.elements(covered("lead", cover("pad", **changes))), LIMITS) is None


def test_quiet_about_kick_and_bass_in_the_lows_which_have_rules_of_their_own() -> None:
    lows = covered("kick", cover("bass", band_hz=(40.0, 90.0)))
    assert element_covered.check(records.elements(lows), LIMITS) is None
    assert fired(records.elements(lows, kick_and_bass=None)).stem == "kick"
    assert fired(records.elements(covered("kick", cover("bass", band_hz=(300.0, 900.0))))).stem == "kick"


def test_quiet_about_what_is_inaudible_or_clearly_too_quiet_since_that_is_told_once() -> None:
    gone = covered()
    gone = replace(gone, masking=replace(gone.masking, audible_share=0.05))
    quiet = replace(gone, masking=replace(gone.masking, audible_share=0.2))
    off = (records.level_move((quiet.name,), None, -9.0),)
    for song, rule in ((records.elements(gone), element_inaudible), (records.elements(quiet, moves=off), element_too_quiet)):
        assert element_covered.check(song, LIMITS) is None
        assert rule.check(song, rule.Limits()) is not None


def test_quiet_about_a_cover_that_is_clearly_too_loud_since_that_is_told_once() -> None:
    song = records.elements(covered(), covered("snare"), moves=(records.level_move(("pad",), None, 9.0),))
    assert element_covered.check(song, LIMITS) is None
    assert found_all(element_too_loud.check(song, element_too_loud.Limits()))[0].stem == "pad"


def test_quiet_about_a_cover_that_is_no_element() -> None:
    assert element_covered.check(records.elements(covered("lead", cover("the rest"))), LIMITS) is None


@pytest.mark.parametrize(("heard_then", "fires"), [(0.59, True), (0.61, False)])
def test_quiet_where_it_is_heard_once_another_fader_is_set_right(heard_then: float, fires: bool) -> None:
    half_heard = covered()
    half_heard = replace(
        half_heard, masking=replace(half_heard.masking, audible_share=0.5), level_plan=replace(half_heard.level_plan, heard_then=heard_then)
    )
    song = records.elements(half_heard, moves=(records.level_move(("snare",), None, 9.0),))
    assert (element_covered.check(song, LIMITS) is not None) == fires
