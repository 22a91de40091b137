"""The lead against the whole mix."""

from math import log10

import pytest

from features.records.base import Absence
from features.records.elements import Elements
from rules.base import Finding
from rules.mixing.balance import lead_level
from tests import records
from tests.rule_cases import found, reason

LIMITS = lead_level.Limits()


def led(lead_lu: float | None, role: str = "vocal", audible_share: float = 0.8, off_db: float = 0.0, **changes: object) -> Elements:
    lead = records.element("lead", role=role, masking={"audible_share": audible_share}, level_plan={"off_db": off_db})
    return records.elements(lead, lead_lu=lead_lu, **changes)


def fired(lead_lu: float = -7.5, role: str = "vocal") -> Finding:
    return found(lead_level.check(led(lead_lu, role), LIMITS))


@pytest.mark.parametrize(("lead_lu", "side", "excess"), [(-7.5, "further back", 2.0), (-0.75, "further forward", 0.5)])
def test_fires_on_both_sides_with_the_range(lead_lu: float, side: str, excess: float) -> None:
    finding = fired(lead_lu)
    wanted = {"name": "'lead'", "lead_lu": lead_lu, "lowest_lu": -4.5, "highest_lu": -1.5, "side": side}
    assert {name: finding.numbers[name] for name in wanted} == wanted
    assert finding.title == f"'lead' {side} than usual"
    assert finding.excess == pytest.approx(excess)


@pytest.mark.parametrize(("lead_lu", "lands_lu"), [(-7.5, -4.0), (-5.0, -4.0), (-1.0, -2.0)])
def test_fires_with_the_gain_that_brings_it_into_the_range(lead_lu: float, lands_lu: float) -> None:
    change = fired(lead_lu).remedy
    assert change is not None
    assert change.gain_db is not None
    lead, rest = 10.0 ** (lead_lu / 10.0), 1.0 - 10.0 ** (lead_lu / 10.0)
    lead *= 10.0 ** (change.gain_db / 10.0)
    assert 10.0 * log10(lead / (lead + rest)) == pytest.approx(lands_lu, abs=0.06)


def test_fires_with_a_bounded_move_where_the_lead_is_all_there_is() -> None:
    assert fired(0.5).numbers["change_db"] == -6.0
    assert fired(-25.0).numbers["change_db"] == 6.0


def test_fires_on_an_instrument_that_lies_off_and_is_hardly_heard_less_surely_and_in_small_steps() -> None:
    finding = found(lead_level.check(led(-15.0, "lead", 0.4, -6.0), LIMITS))
    assert (finding.confidence, finding.numbers["change_db"], finding.numbers["steps"]) == ("low", 4.0, " as a first step")
    assert finding.excess == 1.5, "the range is that of voices"
    assert finding.exact, "no more than that is tried at once"
    assert fired().confidence == "medium"


def test_fires_on_an_instrument_in_front_only_with_a_second_sign() -> None:
    assert found(lead_level.check(led(-0.5, "lead", 1.0, 6.0), LIMITS)).numbers["side"] == "further forward"
    assert lead_level.check(led(-0.5, "lead", 1.0, 4.0), LIMITS) is None


def test_quiet_about_an_instrument_that_is_heard_where_it_lies_or_drowned_by_what_is_too_loud() -> None:
    assert lead_level.check(led(-15.0, "lead", 0.8, -6.0), LIMITS) is None
    assert lead_level.check(led(-15.0, "lead", 0.4, 0.0), LIMITS) is None
    hidden = records.element("lead", masking={"audible_share": 0.3}, level_plan={"off_db": -6.0, "heard_then": 0.7, "then_lu": -9.0})
    assert lead_level.check(records.elements(hidden, lead_lu=-15.0, moves=(records.level_move(("pad",), None, 10.0),)), LIMITS) is None


@pytest.mark.parametrize(("then_lu", "fires"), [(-3.0, False), (-6.0, True)])
def test_quiet_where_the_lead_lies_right_once_another_does(then_lu: float, fires: bool) -> None:
    voice = records.element("lead", role="vocal", level_plan={"then_lu": then_lu})
    song = records.elements(voice, lead_lu=-9.0, moves=(records.level_move(("pad",), None, 10.0),))
    assert (lead_level.check(song, LIMITS) is not None) == fires


def test_fires_where_it_is_the_lead_itself_that_lies_off() -> None:
    voice = records.element("lead", role="vocal", level_plan={"then_lu": -3.0, "off_db": -9.0})
    assert (
        found(lead_level.check(records.elements(voice, lead_lu=-9.0, moves=(records.level_move(("lead",), None, -9.0),)), LIMITS)).stem
        == "lead"
    )


@pytest.mark.parametrize("lead_lu", [-4.5, -3.0, -1.5])
def test_quiet_within_the_range(lead_lu: float) -> None:
    assert lead_level.check(led(lead_lu), LIMITS) is None


@pytest.mark.parametrize(
    ("song", "words"),
    [
        (led(-9.0, lead=None), "no element is known as the lead"),
        (led(-9.0, lead="somebody"), "no element is known as the lead"),
        (led(None, absent=(Absence("lead_lu", "the lead is silent"),)), "the lead is silent"),
    ],
)
def test_not_applicable_without_a_lead(song: Elements, words: str) -> None:
    assert words in reason(lead_level.check(song, LIMITS))
