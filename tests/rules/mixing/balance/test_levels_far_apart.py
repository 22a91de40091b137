"""How close the main elements lie."""

from dataclasses import replace

import pytest

from features.records.base import Absence
from features.records.elements import Elements
from rules.base import Finding
from rules.mixing.balance import levels_far_apart
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = levels_far_apart.Limits()


def apart(
    closeness_db: float = 16.0, *, soft_off_db: float = -12.0, loud_off_db: float = 4.0, beside_usual_db: float | None = -5.0
) -> Elements:
    soft = records.element("pad", level={"while_playing_lu": -19.5}, level_plan={"stands_out_db": soft_off_db, "off_db": beside_usual_db})
    loud = records.element("lead", level={"while_playing_lu": -3.5}, level_plan={"stands_out_db": loud_off_db, "off_db": 5.0})
    return records.elements(soft, loud, closeness_db=closeness_db)


def fired(song: Elements | None = None) -> Finding:
    return found(levels_far_apart.check(song or apart(), LIMITS))


def test_fires_with_both_ends_and_what_close_mixes_keep() -> None:
    finding = fired()
    wanted = {"closeness_db": 16.0, "loudest": "'lead'", "softest": "'pad'", "close_db": 3.0}
    assert {name: finding.numbers[name] for name in wanted} == wanted
    assert (finding.stem, finding.confidence) == ("pad", "low")
    assert finding.excess == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("soft_off_db", "loud_off_db", "remedy"),
    [
        (-7.0, 4.0, Remedy("gain", "pad", gain_db=3.5)),
        (-5.0, 6.0, Remedy("gain", "lead", gain_db=-3.0)),
        (-30.0, 4.0, Remedy("gain", "pad", gain_db=4.0)),
    ],
)
def test_fires_with_half_of_the_way_for_the_furthest(soft_off_db: float, loud_off_db: float, remedy: Remedy) -> None:
    assert fired(apart(soft_off_db=soft_off_db, loud_off_db=loud_off_db)).remedy == remedy


def test_fires_where_the_usual_is_not_known() -> None:
    assert fired(apart(beside_usual_db=None)).stem == "pad"


@pytest.mark.parametrize("beside_usual_db", [-3.9, 0.0, 6.0])
def test_quiet_where_the_role_of_the_outlier_lies_there_anyway(beside_usual_db: float) -> None:
    assert levels_far_apart.check(apart(beside_usual_db=beside_usual_db), LIMITS) is None


def test_quiet_up_to_the_limit() -> None:
    assert levels_far_apart.check(apart(12.0), LIMITS) is None


def test_quiet_where_none_of_the_main_elements_can_be_moved() -> None:
    assert levels_far_apart.check(records.elements(closeness_db=16.0, main=()), LIMITS) is None
    assert levels_far_apart.check(apart(soft_off_db=0.0, loud_off_db=0.0), LIMITS) is None


def test_not_applicable_with_a_single_main_element() -> None:
    lonely = records.elements(closeness_db=None, absent=(Absence("closeness_db", "there is only one main element"),))
    assert reason(levels_far_apart.check(lonely, LIMITS)) == "there is only one main element"


def test_quiet_about_one_of_a_group_that_is_told_as_one() -> None:
    moves = (records.level_move(("pad", "keys"), "music", -9.0),)
    assert levels_far_apart.check(replace(apart(), moves=moves), LIMITS) is None
    assert levels_far_apart.check(replace(apart(), moves=(records.level_move(("pad",), None, -9.0),)), LIMITS) is not None
