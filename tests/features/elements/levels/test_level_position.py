"""How far an element lies from the usual, by loudness and by what is heard of it together."""

from math import log10

import pytest

from features.elements.identity import Identity
from features.elements.levels.level_position import FEWEST, USUAL_SHARE, against_the_rest_db, offs_db, position_db, positions_db
from features.records.elements import Element
from tests import records

NAMES = ("kick", "snare", "bass", "pad", "lead")


def offs(changed: str = "", lu: float = -6.0, share: float | None = USUAL_SHARE, names: tuple[str, ...] = NAMES) -> list[float | None]:
    """Return how far each lies off where all lie at the usual, but for one."""
    made = [
        records.element(
            name, level={"while_playing_lu": lu if name == changed else -6.0},
            masking={"audible_share": share if name == changed else USUAL_SHARE}, level_plan={"usual_lu": -6.0},
        )
        for name in names
    ]  # fmt: skip
    identities = [Identity(element.name, element.role, element.group, "name", 2, 44100) for element in made]
    return list(_offs(identities, made))


def _offs(identities: list[Identity], made: list[Element]) -> tuple[float | None, ...]:
    lu, shares = [element.level.while_playing_lu for element in made], [element.masking.audible_share for element in made]
    return offs_db(positions_db(identities, [element.level_plan for element in made], lu, shares))


def test_an_element_as_loud_as_all_the_rest_lies_3_db_below_the_whole() -> None:
    assert against_the_rest_db(10 * log10(0.5)) == pytest.approx(0.0)
    for share in (0.01, 0.3, 0.9):
        assert against_the_rest_db(10 * log10(share)) == pytest.approx(10 * log10(share / (1 - share)))


@pytest.mark.parametrize("lu", [0.0, 2.0])
def test_one_that_is_all_there_is_stays_finite(lu: float) -> None:
    assert against_the_rest_db(lu) == pytest.approx(10 * log10(0.97 / 0.03))


def test_where_all_lie_at_the_usual_none_is_off() -> None:
    assert offs() == pytest.approx([0.0] * len(NAMES))


def test_both_readings_count_and_only_for_the_one_they_are_about() -> None:
    louder, clearer = offs("pad", lu=-1.0), offs("pad", share=0.95)
    for element in (louder, clearer):
        assert element[3] is not None
        assert element[3] > 2.0
        assert element[:3] + element[4:] == pytest.approx([0.0] * 4), "the middle of the others stays where it is"


def test_by_hand() -> None:
    # R at -3.01 LU: 0; at -6 LU: 10 log10(0.2512 / 0.7488) = -4.74; ln(0.9 / 0.1) = 2.197, ln(0.71 / 0.29) = 0.895
    assert offs("pad", lu=-3.01, share=0.9)[3] == pytest.approx(0.5 * 4.74 + 2 * (2.197 - 0.895), abs=0.01)


def test_when_one_hides_all_others_they_are_not_off_by_as_much() -> None:
    sunk = position_db(-12.0, -6.0, 0.4)
    made = [records.element(name, level={"while_playing_lu": -12.0}, masking={"audible_share": 0.4}, level_plan={"usual_lu": -6.0})
            for name in NAMES[:4]]  # fmt: skip
    loud = records.element("lead", level={"while_playing_lu": -1.0}, masking={"audible_share": 0.97}, level_plan={"usual_lu": -6.0})
    every = [*made, loud]
    without_hiding = _offs([Identity(element.name, element.role, element.group, "name", 2, 44100) for element in every], every)
    assert without_hiding[0] == pytest.approx(0.25 * sunk)
    assert without_hiding[4] is not None
    assert without_hiding[4] > position_db(-1.0, -6.0, 0.97)


def test_a_voice_is_held_against_the_level_of_lead_voices() -> None:
    element = records.element("pad", level={"while_playing_lu": -3.0}, masking={"audible_share": USUAL_SHARE})
    identities = [Identity(f"{role} {number}", role, "vocals", "name", 2, 44100)
                  for role in ("vocal", "pad") for number in range(2)]  # fmt: skip
    by_element = _offs(identities, [element] * 4)
    assert by_element[0] is not None
    assert by_element[2] is not None
    assert by_element[0] < by_element[2], "what is usual for a voice is loud for a pad"


@pytest.mark.parametrize("share", [None])
def test_what_is_silent_has_none_and_is_not_counted(share: float | None) -> None:
    silent = offs("pad", share=share)
    assert silent[3] is None
    assert silent[:3] == pytest.approx([0.0] * 3)


def test_fewer_than_three_are_not_compared() -> None:
    assert offs(names=NAMES[: FEWEST - 1]) == [None] * (FEWEST - 1)
    assert None not in offs(names=NAMES[:FEWEST])
