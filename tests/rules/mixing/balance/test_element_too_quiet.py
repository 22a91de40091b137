"""An element that lies likely stands too far behind, by the levels of all together."""

import pytest

from features.records.base import Span
from features.records.elements import Element, Elements
from rules.base import Finding
from rules.mixing.balance import element_too_quiet
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_too_quiet.Limits()


def quiet(audible_share: float = 0.2, **masking: object) -> Element:
    return records.element("snare", level={"while_playing_lu": -17.0}, masking={"audible_share": audible_share, **masking})


def song(element: Element | None = None, off_db: float = -8.0, chance: float = 0.7) -> Elements:
    return records.elements(element or quiet(), moves=(records.level_move(("snare",), None, off_db, chance),))


def fired(elements: Elements | None = None) -> Finding:
    return found_all(element_too_quiet.check(elements or song(), LIMITS))[0]


def test_fires_with_why_and_where() -> None:
    finding = fired()
    assert (finding.stem, finding.cause, finding.confidence, finding.exact) == ("snare", "level", "medium", True)
    assert finding.numbers["signs"] == (
        "It plays at -17 LU against the mix (usual for snare: -9 ± 4). 20% of it is audible (usual: about 70%)"
    )
    assert finding.where == (Span(126.0, 131.0),)


def test_fires_with_as_much_as_the_evidence_carries() -> None:
    assert fired().remedy == Remedy("gain", "snare", gain_db=5.5)
    assert fired(song(chance=0.5)).remedy == Remedy("gain", "snare", gain_db=4.0)
    assert fired(song(chance=0.5)).confidence == "low"


def test_quiet_where_one_that_is_too_loud_drowns_it_since_that_is_told_there() -> None:
    song = records.elements(quiet(), moves=(records.level_move(("pad",), None, 10.0),))
    assert element_too_quiet.check(song, LIMITS) is None


def test_fires_once_for_a_group_that_lies_off_as_one() -> None:
    move = records.level_move(("kick", "snare", "hats"), "drums", -12.0)
    findings = found_all(element_too_quiet.check(records.elements(quiet(audible_share=0.05), moves=(move,)), LIMITS))
    assert [(finding.stem, finding.title, finding.remedy) for finding in findings] == [
        ("kick", "The drums group too quiet", Remedy("gain", "drums", gain_db=6.0))
    ]
    assert findings[0].numbers["name"] == "the drums group ('kick', 'snare' and 'hats')"


@pytest.mark.parametrize("elements", [records.elements(), song(chance=0.29), song(off_db=8.0)])
def test_quiet_where_no_fader_likely_lies_too_low(elements: Elements) -> None:
    assert element_too_quiet.check(elements, LIMITS) is None


def test_quiet_about_what_is_not_heard_at_all_since_that_is_told_elsewhere() -> None:
    assert element_too_quiet.check(song(quiet(audible_share=0.1)), LIMITS) is None
