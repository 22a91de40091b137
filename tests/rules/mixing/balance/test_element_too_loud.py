"""An element that lies further above the usual than elements differ by anyway."""

import pytest

from features.records.elements import Element, Elements
from rules.base import Finding
from rules.mixing.balance import element_too_loud
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_too_loud.Limits()


def loud(off_db: float | None = 10.0, name: str = "pad", **changes: object) -> Element:
    return records.element(name, level={"while_playing_lu": -2.0}, level_plan={"off_db": off_db}, **changes)


def covering(*names: str, share: float = 0.3) -> tuple[Element, ...]:
    return tuple(records.element(name, masking={"covered_by": (records.cover("pad", share=share),)}) for name in names)


def fired(song: Elements | None = None) -> Finding:
    return found_all(element_too_loud.check(song or records.elements(loud(), *covering("lead", "snare", "hats")), LIMITS))[0]


def test_fires_with_how_far_it_seems_off_and_why() -> None:
    finding = fired()
    assert (finding.stem, finding.cause, finding.confidence, finding.exact) == ("pad", "level", "medium", True)
    assert finding.numbers["off_db"] == pytest.approx(8.0)  # 0.8 of 10: part of any distance is the song's own
    assert finding.numbers["signs"] == (
        "It plays at -2 LU against the mix (usual for pad: -7 ± 7). 50% of it is audible (usual: about 70%). "
        "It masks 'snare', 'lead' and 'hats'"
    )
    assert finding.excess == pytest.approx((10.0 - 7.5) / 2.5)


def test_fires_with_a_first_step_where_more_seems_needed() -> None:
    finding = fired()
    assert finding.remedy == Remedy("gain", "pad", gain_db=-6.0)
    assert finding.numbers["steps"] == " as a first step"


def test_fires_more_weakly_below_twice_the_spread_and_moves_less() -> None:
    finding = fired(records.elements(loud(8.0)))
    assert (finding.confidence, finding.remedy) == ("low", Remedy("gain", "pad", gain_db=-4.0))


def test_fires_saying_where_loudness_alone_would_say_nothing() -> None:
    usual = records.elements(loud(8.0))
    louder = records.elements(records.element("pad", level={"while_playing_lu": 1.0}, level_plan={"off_db": 8.0}))
    assert "its level alone" in fired(usual).sure_because
    assert "its level alone" not in fired(louder).sure_because


def test_fires_weakly_for_effects_however_far_off() -> None:
    assert fired(records.elements(loud(15.0, role="effects"))).confidence == "low"


def test_fires_for_no_more_than_the_three_furthest_loud_or_quiet() -> None:
    off = {"pad": 9.0, "lead": 12.0, "bass": 10.0, "kick": -15.0}
    song = records.elements(*(records.element(name, level_plan={"off_db": value}) for name, value in off.items()))
    assert [finding.stem for finding in found_all(element_too_loud.check(song, LIMITS))] == ["lead", "bass"]


@pytest.mark.parametrize("element", [loud(7.5), loud(-12.0), loud(None), loud(12.0, silent=True), loud(12.0, copy_of="lead")])
def test_quiet_within_what_elements_differ_by(element: Element) -> None:
    assert element_too_loud.check(records.elements(element, *covering("lead", "snare")), LIMITS) is None
