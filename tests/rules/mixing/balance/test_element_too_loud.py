"""An element that lies likely stands too far in front, by the levels of all together."""

import pytest

from features.records.elements import Element, Elements
from rules.base import Finding
from rules.mixing.balance import element_too_loud
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_too_loud.Limits()


def loud(name: str = "pad", **changes: object) -> Element:
    return records.element(name, level={"while_playing_lu": -2.0}, **changes)


def song(*elements: Element, off_db: float = 8.0, chance: float = 0.7, name: str = "pad") -> Elements:
    return records.elements(*(elements or (loud(),)), moves=(records.level_move((name,), None, off_db, chance),))


def covering(*names: str, share: float = 0.3) -> tuple[Element, ...]:
    return tuple(records.element(name, masking={"covered_by": (records.cover("pad", share=share),)}) for name in names)


def fired(elements: Elements | None = None) -> Finding:
    return found_all(element_too_loud.check(elements or song(loud(), *covering("lead", "snare", "hats")), LIMITS))[0]


def test_fires_with_why() -> None:
    finding = fired()
    assert (finding.stem, finding.cause, finding.confidence, finding.exact) == ("pad", "level", "medium", True)
    assert finding.numbers["signs"] == (
        "It plays at -2 LU against the mix (usual for pad: -7 ± 7). 50% of it is audible (usual: about 70%). "
        "It masks 'snare', 'lead' and 'hats'"
    )


def test_fires_with_as_much_as_the_evidence_carries() -> None:
    assert fired().remedy == Remedy("gain", "pad", gain_db=-5.5)  # 0.7 of 8 dB, in half decibels
    assert fired(song(off_db=14.0, chance=0.9)).remedy == Remedy("gain", "pad", gain_db=-6.0)  # at once, then listen


def test_fires_more_weakly_where_it_is_less_likely_and_moves_less() -> None:
    finding = fired(song(chance=0.4))
    assert (finding.confidence, finding.remedy) == ("low", Remedy("gain", "pad", gain_db=-3.0))


def test_fires_saying_where_loudness_alone_would_say_nothing() -> None:
    louder = song(records.element("pad", level={"while_playing_lu": 1.0}))
    assert "its level alone" in fired(song()).sure_because
    assert "its level alone" not in fired(louder).sure_because


def test_fires_weakly_for_effects_however_far_off() -> None:
    assert fired(song(loud(role="effects"), off_db=15.0, chance=0.95)).confidence == "low"


def test_fires_for_every_fader_that_likely_lies_too_high() -> None:
    off = {"pad": 9.0, "lead": 12.0, "kick": -15.0}
    elements = records.elements(moves=tuple(records.level_move((name,), None, value) for name, value in off.items()))
    assert {finding.stem for finding in found_all(element_too_loud.check(elements, LIMITS))} == {"pad", "lead"}


@pytest.mark.parametrize("elements", [records.elements(), song(chance=0.29), song(off_db=-8.0)])
def test_quiet_where_no_fader_likely_lies_too_high(elements: Elements) -> None:
    assert element_too_loud.check(elements, LIMITS) is None
