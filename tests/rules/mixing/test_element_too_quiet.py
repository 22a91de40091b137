"""An element that seems too quiet, by signs that agree."""

import pytest

from features.element_records import Element
from features.measurements import Span
from rules.base import Finding
from rules.mixing import element_too_quiet
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_too_quiet.Limits()


def quiet(in_mix_lu: float = -15.6, heard: float = 0.2, fader_db: float = 7.0) -> Element:
    # a snare usually lies at -9.3 LU, give or take 4.3: at -15.6 it is 1.47 spreads softer
    return records.element(
        "snare", level={"in_mix_lu": in_mix_lu}, masking={"audible_share": heard}, level_plan={"target_fader_db": fader_db}
    )


def fired(one: Element | None = None) -> Finding:
    return found_all(element_too_quiet.check(records.elements(one or quiet()), LIMITS))[0]


def test_fires_with_all_three_signs_in_words() -> None:
    finding = fired()
    assert (finding.stem, finding.cause, finding.confidence) == ("snare", "level", "medium")
    assert finding.numbers["signs"] == (
        "it is 6 LU below what its role usually has (snare: -9 ± 4 LU against the mix), only 20% of it is heard, "
        "and against noise with the target's spectrum it stands 7 dB below the others"
    )
    assert finding.where == (Span(126.0, 131.0),)
    assert finding.excess == pytest.approx((6.3 / 4.3 - 1.0 + 1.5 + 0.8) / 3.0)


def test_fires_with_the_fader_up_by_part_of_what_it_seems_off() -> None:
    assert fired().remedy == Remedy("gain", "snare", gain_db=round(0.7 * (6.3 + 7.0) / 2.0, 1))


@pytest.mark.parametrize(("in_mix_lu", "heard", "fader_db"), [(-15.6, 0.2, 0.0), (-15.6, 0.8, 7.0), (-9.0, 0.2, 7.0)])
def test_fires_on_any_two_of_the_three(in_mix_lu: float, heard: float, fader_db: float) -> None:
    assert fired(quiet(in_mix_lu, heard, fader_db)).confidence == "medium"


def test_fires_weakly_on_the_role_alone_when_it_is_far_outside() -> None:
    finding = fired(quiet(-9.3 - 2.5 * 4.3, 0.8, 0.0))
    assert finding.confidence == "low"
    assert finding.excess == pytest.approx(0.5)


def test_fires_weakly_on_what_is_heard_alone_when_that_is_little() -> None:
    finding = fired(quiet(-9.0, 0.17, 0.0))
    assert (finding.confidence, finding.numbers["signs"]) == ("low", "only 17% of it is heard")
    assert finding.excess == pytest.approx(1.0)


def test_fires_with_no_more_than_is_sensible_at_once() -> None:
    assert fired(quiet(-60.0, 0.2, 40.0)).numbers["change_db"] == 9.0


@pytest.mark.parametrize("one", [quiet(-17.8, 0.8, 0.0), quiet(-9.0, 0.22, 0.0), quiet(-9.0, 0.8, 12.0), quiet(-13.5, 0.35, 5.0)])
def test_quiet_when_one_sign_stands_alone(one: Element) -> None:
    assert element_too_quiet.check(records.elements(one), LIMITS) is None


def test_quiet_about_what_is_not_heard_at_all_since_that_is_told_elsewhere() -> None:
    assert element_too_quiet.check(records.elements(quiet(heard=0.1)), LIMITS) is None
