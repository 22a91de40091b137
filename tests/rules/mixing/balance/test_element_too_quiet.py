"""An element that lies further below the usual than elements differ by anyway."""

import pytest

from features.records.base import Span
from features.records.elements import Element, LevelMove
from rules.base import Finding
from rules.mixing.balance import element_too_quiet
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_too_quiet.Limits()


def quiet(off_db: float | None = -11.0, audible_share: float = 0.2, **masking: object) -> Element:
    return records.element(
        "snare", level={"while_playing_lu": -17.0}, masking={"audible_share": audible_share, **masking}, level_plan={"off_db": off_db}
    )


def loud_pad(off_db: float) -> Element:
    return records.element("pad", level_plan={"off_db": off_db})


def fired(element: Element | None = None) -> Finding:
    return found_all(element_too_quiet.check(records.elements(element or quiet()), LIMITS))[0]


def test_fires_with_how_far_it_seems_off_and_why() -> None:
    finding = fired()
    assert (finding.stem, finding.cause, finding.confidence, finding.exact) == ("snare", "level", "medium", True)
    assert finding.numbers["off_db"] == pytest.approx(8.8)
    assert finding.numbers["signs"] == (
        "It plays at -17 LU against the mix (usual for snare: -9 ± 4). 20% of it is audible (usual: about 70%)"
    )
    assert finding.where == (Span(126.0, 131.0),)
    assert finding.excess == pytest.approx((11.0 - 7.5) / 2.5)


def test_fires_with_no_more_than_is_sensible_at_once() -> None:
    assert fired().remedy == Remedy("gain", "snare", gain_db=6.0)
    assert fired(quiet(-8.0)).remedy == Remedy("gain", "snare", gain_db=4.0)
    assert fired(quiet(-8.0)).confidence == "low"


def test_fires_beside_a_loud_cover_that_lies_less_far_off() -> None:
    element = quiet(-11.0, covered_by=(records.cover("pad", share=0.7),))
    findings = found_all(element_too_quiet.check(records.elements(element, loud_pad(10.0)), LIMITS))
    assert [finding.stem for finding in findings] == ["snare"]


def test_quiet_where_one_that_is_too_loud_drowns_it_since_that_is_told_there() -> None:
    song = records.elements(quiet(-9.0), moves=(LevelMove(("pad",), None, 10.0),))
    assert element_too_quiet.check(song, LIMITS) is None


def test_fires_once_for_a_group_that_lies_off_as_one() -> None:
    move = LevelMove(("kick", "snare", "hats"), "drums", -12.0)
    findings = found_all(element_too_quiet.check(records.elements(quiet(audible_share=0.05), moves=(move,)), LIMITS))
    assert [(finding.stem, finding.title, finding.remedy) for finding in findings] == [
        ("kick", "The drums group too quiet", Remedy("gain", "drums", gain_db=6.0))
    ]
    assert findings[0].numbers["name"] == "the drums group ('kick', 'snare' and 'hats')"


@pytest.mark.parametrize("element", [quiet(-7.5), quiet(12.0), quiet(None)])
def test_quiet_within_what_elements_differ_by(element: Element) -> None:
    assert element_too_quiet.check(records.elements(element), LIMITS) is None


def test_quiet_about_what_is_not_heard_at_all_since_that_is_told_elsewhere() -> None:
    assert element_too_quiet.check(records.elements(quiet(audible_share=0.1)), LIMITS) is None
