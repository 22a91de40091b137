"""Elements of which next to nothing is heard."""

import pytest

from features.records.base import Span
from features.records.elements import Element
from rules.base import Finding
from rules.mixing.masking import element_inaudible
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_inaudible.Limits()


def hidden(name: str = "pad", share: float = 0.06, **masking: object) -> Element:
    return records.element(name, masking={"audible_share": share, **masking})


def fired(element: Element | None = None) -> Finding:
    return found_all(element_inaudible.check(records.elements(element or hidden()), LIMITS))[0]


def test_fires_with_the_element_how_much_is_heard_and_who_covers_it() -> None:
    finding = fired()
    assert (finding.stem, finding.title, finding.numbers["audible"]) == ("pad", "'pad' is barely audible", 0.06)
    assert finding.numbers["covers"] == "'lead' masks"
    assert finding.excess == pytest.approx(2.0)  # (0.12 - 0.06) / 0.03
    assert finding.where == (Span(126.0, 131.0),)


def test_fires_with_a_fader_move_of_what_the_covers_stand_above_it() -> None:
    covers = (records.cover("lead", share=0.6, excess_db=6.0), records.cover("bass", share=0.2, excess_db=2.0))
    assert fired(hidden(covered_by=covers)).remedy == Remedy("gain", "pad", gain_db=5.0)  # (0.6 x 6 + 0.2 x 2) / 0.8


@pytest.mark.parametrize(("above_db", "advised_db"), [(1.0, 3.0), (20.0, 6.0)])
def test_fires_with_a_move_that_is_neither_tiny_nor_huge(above_db: float, advised_db: float) -> None:
    finding = fired(hidden(covered_by=(records.cover("lead", excess_db=above_db),)))
    assert finding.numbers["rise_db"] == advised_db
    assert bool(finding.numbers["steps"]) == (above_db > advised_db)


def test_fires_with_more_weight_where_it_also_lies_far_below_the_usual() -> None:
    far = records.element("pad", masking={"audible_share": 0.1}, level_plan={"off_db": -15.0})
    assert fired(far).excess == pytest.approx(3.0)  # (15 - 7.5) / 2.5


def test_quiet_where_one_that_is_too_loud_drowns_it_since_that_is_told_there() -> None:
    loud = (records.level_move(("lead",), None, 12.0),)
    drowned, gone = (records.element("pad", masking={"audible_share": 0.06}, level_plan={"heard_then": then}) for then in (0.4, 0.1))
    assert element_inaudible.check(records.elements(drowned, moves=loud), LIMITS) is None
    assert found_all(element_inaudible.check(records.elements(gone, moves=loud), LIMITS))[0].stem == "pad"


def test_quiet_about_the_elements_of_a_group_that_is_told_as_one() -> None:
    gone = [records.element(name, masking={"audible_share": 0.05}, level_plan={"heard_then": 0.7}) for name in ("kick", "snare")]
    assert element_inaudible.check(records.elements(*gone, moves=(records.level_move(("kick", "snare"), "drums", -12.0),)), LIMITS) is None
    alone = records.elements(*gone, moves=(records.level_move(("kick",), None, -12.0),))
    assert [finding.stem for finding in found_all(element_inaudible.check(alone, LIMITS))] == ["kick"]


def test_fires_without_knowing_who_covers_it() -> None:
    finding = fired(hidden(covered_by=()))
    assert (finding.numbers["covers"], finding.numbers["rise_db"], finding.others) == ("The others mask", 6.0, ())


def test_fires_with_pan_and_then_a_cut_as_other_ways_where_the_cover_can_spare_the_band() -> None:
    spared = hidden(covered_by=(records.cover("lead", essential=False),))
    assert [remedy.kind for remedy in fired(spared).others] == ["pan", "bell"]
    assert [remedy.kind for remedy in fired().others] == ["pan"], "the lead lives from that band"


def test_fires_worst_first_and_at_most_four_times() -> None:
    shares = {"pad": 0.09, "hats": 0.01, "lead": 0.05, "snare": 0.08, "bass": 0.11}
    song = records.elements(*(hidden(name, share) for name, share in shares.items()))
    assert [finding.stem for finding in found_all(element_inaudible.check(song, LIMITS))] == ["hats", "lead", "snare", "pad"]


@pytest.mark.parametrize(("share", "role", "confidence"), [(0.05, "pad", "high"), (0.1, "pad", "medium"), (0.05, "effects", "low")])
def test_fires_as_surely_as_role_and_share_allow(share: float, role: str, confidence: str) -> None:
    assert fired(records.element("pad", role=role, masking={"audible_share": share})).confidence == confidence


@pytest.mark.parametrize(
    "element",
    [
        hidden(share=0.12),
        records.element("pad", masking={"audible_share": None}),
        records.element("pad", silent=True, masking={"audible_share": 0.0}),
        records.element("pad", copy_of="lead", masking={"audible_share": 0.0}),
    ],
)
def test_quiet_at_the_limit_and_where_nothing_is_to_be_heard(element: Element) -> None:
    assert element_inaudible.check(records.elements(element), LIMITS) is None
