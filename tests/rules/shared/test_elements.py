"""What the rules about elements share: names, orders, and moves on them."""

from dataclasses import replace

import pytest

from features.records.elements import Role
from rules.base import Confidence, Finding
from rules.remedy import Remedy
from rules.shared.elements import at_once_db, called, central, cut, listed, pan_apart, present, titled, worst_first
from rules.shared.level_signs import Limits, brings_about, chief, moved, suspects, verdict
from tests import records


def finding(excess: float, confidence: str, stem: str) -> Finding:
    return Finding(excess, confidence, "because", {}, "level", stem=stem)  # type: ignore[arg-type]


def test_present_leaves_out_silence_and_copies() -> None:
    song = records.elements(records.element("pad", silent=True), records.element("hats", copy_of="snare"))
    assert [element.name for element in present(song)] == ["kick", "snare", "bass", "lead"]


@pytest.mark.parametrize("length", [1, 19, 20, 21, 80])
def test_a_name_in_a_title_is_bounded_and_keeps_both_ends(length: int) -> None:
    name = "a" * (length - 1) + "z"
    assert len(titled(name)) <= 22
    assert titled(name).endswith("z'")
    assert called(name) == f"'{name}'"


@pytest.mark.parametrize(
    ("names", "words"), [(["a"], "'a'"), (["a", "b", "c"], "'a', 'b' and 'c'"), (["a", "b", "c", "d"], "'a', 'b' and 2 more")]
)
def test_names_in_a_row_are_no_more_than_three(names: list[str], words: str) -> None:
    assert listed(names) == words


def test_the_worst_comes_first_by_excess_times_sureness() -> None:
    findings = [finding(2.0, "low", "a"), finding(1.0, "high", "b"), finding(1.2, "medium", "c"), finding(0.0, "high", "d")]
    ordered = worst_first(findings)
    assert ordered is not None
    assert [finding.stem for finding in ordered] == ["b", "c", "a"]
    assert worst_first(findings[3:]) is None


def test_a_cut_spans_its_band() -> None:
    assert cut("pad", (500.0, 2000.0), 3.04) == Remedy("bell", "pad", frequency_hz=1000.0, gain_db=-3.0, q=round(1000.0 / 1500.0, 2))
    assert cut("pad", (995.0, 1005.0), 3.0).q == 2.0, "a bell so narrow would hit single notes"


@pytest.mark.parametrize(
    ("covered_role", "cover_role", "moved"),
    [("pad", "lead", "lead"), ("pad", "vocal", "pad"), ("vocal", "pad", "cover"), ("kick", "vocal", None), ("bass", "kick", None)],
)
def test_a_pan_never_moves_what_belongs_in_the_centre(covered_role: Role, cover_role: Role, moved: str | None) -> None:
    covered, other = records.element("pad", role=covered_role), records.element("lead", role=cover_role)
    remedy = pan_apart(covered, records.cover("lead"), records.elements(covered, other, lead=None))
    wanted = {"cover": "lead", None: None}.get(moved, moved)
    assert (None if remedy is None else remedy.part) == wanted


@pytest.mark.parametrize(("pan_db", "gain_db"), [(2.0, 6.0), (-2.0, -6.0), (None, 6.0)])
def test_a_pan_goes_to_the_side_it_leans_to(pan_db: float | None, gain_db: float) -> None:
    other = records.element("lead", level={"pan_db": pan_db})
    remedy = pan_apart(records.element("pad"), records.cover("lead"), records.elements(other, lead=None))
    assert remedy == Remedy("pan", "lead", gain_db=gain_db)
    assert central(other)


def test_a_pan_leaves_the_lead_where_it_is() -> None:
    remedy = pan_apart(records.element("pad"), records.cover("lead"), records.elements())
    assert remedy == Remedy("pan", "pad", gain_db=6.0)


def test_signs_do_not_depend_on_the_order_of_the_stems() -> None:
    song = records.elements(moves=(records.level_move(("pad",), None, 9.0),))
    turned = replace(song, elements=tuple(reversed(song.elements)))
    verdicts, again = ([verdict(suspect, order, Limits()) for suspect in suspects(order, Limits())] for order in (song, turned))
    assert len(verdicts) == 1
    assert verdicts == again


@pytest.mark.parametrize(("chance", "off_db"), [(0.29, 0.0), (0.31, -8.0)])
def test_a_fader_counts_as_off_from_the_limit_on(chance: float, off_db: float) -> None:
    song = records.elements(moves=(records.level_move(("snare",), None, -8.0, chance),))
    snare = song.named("snare")
    assert snare is not None
    assert moved(snare, song, Limits()) == off_db


@pytest.mark.parametrize(("chance", "confidence"), [(0.59, "low"), (0.61, "medium")])
def test_how_sure_follows_from_the_chance_and_the_move_from_what_is_expected(chance: float, confidence: str) -> None:
    said = verdict(records.level_move(("snare",), None, -8.0, chance), records.elements(), Limits())
    assert said.confidence == confidence
    assert said.change_db == min(round(16.0 * chance) / 2.0, 6.0 if confidence == "medium" else 4.0)
    assert "all elements together" in said.sure_because


def test_the_louder_it_is_the_further_past() -> None:
    song = records.elements()
    excesses = [verdict(records.level_move(("snare",), None, off_db), song, Limits()).excess for off_db in (4.0, 6.0, 8.0)]
    assert excesses == sorted(set(excesses))


def test_where_faders_explain_the_levels_only_these_are_named() -> None:
    song = records.elements(
        records.element("pad", level_plan={"off_db": 9.0}), moves=(records.level_move(("kick", "snare"), "drums", -10.0),)
    )
    assert [suspect.names for suspect in suspects(song, Limits())] == [("kick", "snare")]
    assert [moved(element, song, Limits()) for element in song.elements if element.name in {"pad", "snare"}] == [-10.0, 0.0]


def test_a_group_is_spoken_of_by_its_loudest() -> None:
    move = records.level_move(("snare", "kick", "hats"), "drums", -10.0)
    song = records.elements(moves=(move,))
    loudest = chief(move, song)
    assert loudest is not None
    assert loudest.name == "kick"
    spoken = verdict(move, song, Limits())
    assert len(spoken.signs) == 3
    assert spoken.signs[0] == "'kick' plays at -4 LU against the mix (usual: -4; 80% audible)"


@pytest.mark.parametrize(
    ("wanted_db", "confidence", "now_db"), [(20.0, "high", 6.0), (20.0, "low", 4.0), (3.0, "low", 3.0), (0.2, "low", 1.5)]
)
def test_the_less_sure_the_less_is_moved_at_once(wanted_db: float, confidence: Confidence, now_db: float) -> None:
    assert at_once_db(wanted_db, confidence) == now_db


@pytest.mark.parametrize(
    ("names", "off_db", "rules"),
    [
        (("kick", "snare"), -9.0, {"buried_hits", "kick_does_not_stick_out", "kick_and_bass_in_one_slot"}),
        (("snare",), -9.0, {"buried_hits"}),
        (("snare",), 9.0, set()),
        (("bass",), 9.0, {"buried_hits", "kick_does_not_stick_out", "kick_and_bass_in_one_slot"}),
        (("pad",), 9.0, {"buried_hits"}),
        (("pad",), -9.0, set()),
    ],
)
def test_hits_are_covered_by_soft_drums_or_by_loud_others(names: tuple[str, ...], off_db: float, rules: set[str]) -> None:
    covered = brings_about(names, records.elements(), louder=off_db > 0.0)
    assert {rule_id.removeprefix("mixing/") for rule_id in covered} == rules
