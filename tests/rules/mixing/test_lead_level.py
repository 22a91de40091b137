"""The lead against the whole mix."""

from math import log10

import pytest

from features.element_records import Elements
from features.measurements import Absence
from rules.base import Finding
from rules.mixing import lead_level
from tests import records
from tests.rule_cases import found, reason

LIMITS = lead_level.Limits()


def led(lead_lu: float | None, role: str = "vocal", **changes: object) -> Elements:
    return records.elements(records.element("lead", role=role), lead_lu=lead_lu, **changes)


def fired(lead_lu: float = -7.5, role: str = "vocal") -> Finding:
    return found(lead_level.check(led(lead_lu, role), LIMITS))


@pytest.mark.parametrize(("lead_lu", "side", "excess"), [(-7.5, "further back", 2.0), (-0.75, "further in front", 0.5)])
def test_fires_on_both_sides_with_the_range(lead_lu: float, side: str, excess: float) -> None:
    finding = fired(lead_lu)
    wanted = {"name": "'lead'", "lead_lu": lead_lu, "lowest_lu": -4.5, "highest_lu": -1.5, "side": side}
    assert {name: finding.numbers[name] for name in wanted} == wanted
    assert finding.title == f"'lead' stands {side} than usual"
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


def test_fires_more_surely_on_a_voice_than_on_an_instrument() -> None:
    assert (fired().confidence, fired(role="lead").confidence) == ("medium", "low")


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
