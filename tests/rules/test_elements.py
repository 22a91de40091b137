"""What the rules about elements share: names, orders, and moves on them."""

import pytest

from features.element_records import Role
from rules.base import Confidence, Finding
from rules.elements import at_once_db, called, central, cut, listed, pan_apart, present, titled, worst_first
from rules.level_signs import Limits, drowned_by, too_loud, too_quiet
from rules.remedy import Remedy
from tests import records


def finding(excess: float, confidence: str, stem: str) -> Finding:
    return Finding(excess, confidence, "because", {}, "level", stem=stem)  # type: ignore[arg-type]


def test_present_leaves_out_silence_and_copies() -> None:
    song = records.elements(records.element("pad", silent=True), records.element("hats", copy_of="snare"))
    assert [one.name for one in present(song)] == ["kick", "snare", "bass", "lead"]


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
    found = [finding(2.0, "low", "a"), finding(1.0, "high", "b"), finding(1.2, "medium", "c"), finding(0.0, "high", "d")]
    ordered = worst_first(found)
    assert ordered is not None
    assert [one.stem for one in ordered] == ["b", "c", "a"]
    assert worst_first(found[3:]) is None


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
    pad = records.element("pad", level_plan={"off_db": 9.0})
    song = records.elements(pad)
    turned = records.elements(elements=tuple(reversed(song.elements)))
    verdict = too_loud(pad, song, Limits())
    assert verdict is not None
    assert verdict == too_loud(pad, turned, Limits())


@pytest.mark.parametrize("off_db", [-12.0, -8.0, 0.0, 8.0, 12.0])
def test_an_element_is_never_too_loud_and_too_quiet_at_once(off_db: float) -> None:
    one = records.element("snare", level_plan={"off_db": off_db})
    song = records.elements(one)
    told = [verdict(one, song, Limits()) is not None for verdict in (too_loud, too_quiet)]
    assert sum(told) == (abs(off_db) > Limits().off_db)


def test_the_louder_it_is_the_further_past() -> None:
    excesses = []
    for off_db in (8.0, 10.0, 12.0):
        one = records.element("snare", level_plan={"off_db": off_db})
        verdict = too_loud(one, records.elements(one), Limits())
        assert verdict is not None
        excesses.append(verdict.excess)
    assert excesses == sorted(set(excesses))


@pytest.mark.parametrize(
    ("cover_off_db", "share", "excess_db", "drowned"),
    [(10.0, 0.5, 8.0, True), (7.0, 0.5, 8.0, False), (10.0, 0.3, 8.0, False), (10.0, 0.5, 15.0, False)],
)
def test_one_is_drowned_only_by_what_is_too_loud_hides_most_and_would_leave_it_heard(
    cover_off_db: float, share: float, excess_db: float, drowned: bool
) -> None:
    one = records.element("snare", masking={"audible_share": 0.3, "covered_by": (records.cover("pad", share=share, excess_db=excess_db),)})
    song = records.elements(one, records.element("pad", level_plan={"off_db": cover_off_db}))
    assert drowned_by(one, song, Limits()) == ("pad" if drowned else None)


@pytest.mark.parametrize(
    ("wanted_db", "confidence", "now_db"), [(20.0, "high", 6.0), (20.0, "low", 4.0), (3.0, "low", 3.0), (0.2, "low", 1.5)]
)
def test_the_less_sure_the_less_is_moved_at_once(wanted_db: float, confidence: Confidence, now_db: float) -> None:
    assert at_once_db(wanted_db, confidence) == now_db
