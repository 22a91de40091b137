"""An element that seems too loud, by signs that agree."""

import pytest

from features.element_records import Element, Elements
from rules.base import Finding
from rules.mixing import element_too_loud
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_too_loud.Limits()


def loud(in_mix_lu: float = 2.0, fader_db: float | None = -9.0, **changes: object) -> Element:
    # a pad usually lies at -6.6 LU, give or take 6.7: at 2.0 it is 1.28 spreads louder
    return records.element("pad", level={"in_mix_lu": in_mix_lu}, level_plan={"target_fader_db": fader_db}, **changes)


def covering(*names: str, share: float = 0.3) -> tuple[Element, ...]:
    return tuple(records.element(name, masking={"covered_by": (records.cover("pad", share=share),)}) for name in names)


def fired(song: Elements | None = None) -> Finding:
    return found_all(element_too_loud.check(song or records.elements(loud(), *covering("lead", "snare", "hats")), LIMITS))[0]


def test_fires_with_all_three_signs_in_words() -> None:
    finding = fired()
    assert (finding.stem, finding.cause, finding.confidence) == ("pad", "level", "medium")
    assert finding.numbers["signs"] == (
        "it is 9 LU above what its role usually has (pad: -7 ± 7 LU against the mix), it covers 'snare', 'lead' and 'hats', "
        "and against noise with the target's spectrum it stands 9 dB above the others"
    )
    assert finding.excess == pytest.approx((8.6 / 6.7 - 1.0 + 2.0 + 1.6) / 3.0)


def test_fires_with_the_fader_down_by_part_of_what_it_seems_off() -> None:
    assert fired().remedy == Remedy("gain", "pad", gain_db=round(-0.7 * (8.6 + 9.0) / 2.0, 1))


@pytest.mark.parametrize(
    ("in_mix_lu", "fader_db", "covered"), [(2.0, -9.0, ()), (2.0, 0.0, ("lead", "snare")), (-11.0, -9.0, ("lead", "snare"))]
)
def test_fires_on_any_two_of_the_three(in_mix_lu: float, fader_db: float, covered: tuple[str, ...]) -> None:
    finding = fired(records.elements(loud(in_mix_lu, fader_db), *covering(*covered)))
    assert (finding.confidence, finding.sure_because[:3]) == ("medium", "two")


def test_fires_weakly_on_the_role_alone_when_it_is_far_outside() -> None:
    finding = fired(records.elements(loud(-6.6 + 2.5 * 6.7, 0.0)))
    assert finding.confidence == "low"
    assert finding.excess == pytest.approx(0.5)
    assert "usually do" in finding.sure_because


def test_fires_weakly_on_covering_alone_when_it_covers_many() -> None:
    finding = fired(records.elements(loud(-11.0, 0.0), *covering("lead", "snare", "hats", "kick")))
    assert (finding.confidence, finding.numbers["signs"]) == ("low", "it covers 'snare', 'lead' and 2 more")
    assert finding.remedy == Remedy("gain", "pad", gain_db=-2.8), "how far it is off, nobody knows"


def test_fires_by_pink_noise_where_no_target_was_taken() -> None:
    one = records.element("pad", level={"in_mix_lu": 2.0}, level_plan={"target_fader_db": None, "pink_fader_db": -9.0})
    assert "against pink noise" in str(fired(records.elements(one)).numbers["signs"])


@pytest.mark.parametrize(
    "song",
    [
        records.elements(loud(-6.6 + 1.9 * 6.7, 0.0)),
        records.elements(loud(-11.0, -15.0)),
        records.elements(loud(-11.0, 0.0), *covering("lead", "snare")),
        records.elements(loud(0.1, -5.0), *covering("lead")),
        records.elements(loud(-11.0, -9.0), *covering("lead", "snare", "hats", share=0.19)),
    ],
)
def test_quiet_when_one_sign_stands_alone(song: Elements) -> None:
    assert element_too_loud.check(song, LIMITS) is None


def test_quiet_without_anything_to_compare_with() -> None:
    bare = records.element("pad", level={"in_mix_lu": None}, level_plan={"usual_lu": None, "target_fader_db": None, "pink_fader_db": None})
    assert element_too_loud.check(records.elements(bare, *covering("lead", "snare")), LIMITS) is None
