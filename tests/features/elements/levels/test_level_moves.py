"""Few faders explain many readings: on elements whose positions follow their faders, and that hide one another."""

import pytest

from features.elements.identity import Identity
from features.elements.levels.level_moves import FAR_DB, Gains, Moves, Stand, find_moves, units
from features.records.elements import GroupName

GROUPS: dict[str, GroupName] = {
    "kick": "drums", "snare": "drums", "hats": "drums", "bass": "bass", "pad": "music", "keys": "music", "lead": "music",
}  # fmt: skip
NAMES = tuple(GROUPS)
IDENTITIES = [Identity(name, "other", group, "name", 2, 44100) for name, group in GROUPS.items()]


def moves_for(planted: dict[str, float], hides: dict[str, float] | None = None, unknown: tuple[str, ...] = ()) -> Moves:
    """Return the moves in a song where all stand right but for ``planted``; the lead pushes others down by ``hides`` for each dB up."""

    def at(gains: Gains) -> Stand:
        faders = {name: planted.get(name, 0.0) + gain for name, gain in zip(NAMES, gains, strict=True)}
        sunk = {name: (hides or {}).get(name, 0.0) * max(faders["lead"], 0.0) for name in NAMES}
        positions = tuple(None if name in unknown else faders[name] - sunk[name] for name in NAMES)
        return Stand(positions, positions, positions)

    return find_moves(IDENTITIES, at)


@pytest.mark.parametrize("off_db", [-12.0, -8.0, 8.0, 12.0])
@pytest.mark.parametrize("name", NAMES)
def test_one_fader_is_named_alone_and_by_how_much(name: str, off_db: float) -> None:
    moves = moves_for({name: off_db}).moves
    assert [(move.names, move.group) for move in moves] == [((name,), None)]
    assert moves[0].off_db == pytest.approx(off_db)


def test_within_what_elements_differ_by_nothing_is_moved() -> None:
    made = moves_for({"pad": FAR_DB - 0.1})
    assert made.moves == ()
    assert made.offs_db[NAMES.index("pad")] == pytest.approx(FAR_DB - 0.1)


def test_a_group_that_lies_off_as_one_is_one_move() -> None:
    made = moves_for({"kick": -14.0, "snare": -12.0, "hats": -10.0})
    assert [(move.names, move.group) for move in made.moves] == [(("kick", "snare", "hats"), "drums")]
    assert made.moves[0].off_db == pytest.approx(-12.0)
    assert made.offs_db[NAMES.index("bass")] == pytest.approx(0.0), "what is not moved lies right"


def test_a_group_of_which_one_lies_right_is_none() -> None:
    moves = moves_for({"kick": -14.0, "snare": -14.0}).moves
    assert {move.names for move in moves} == {("kick",), ("snare",)}


def test_what_is_only_hidden_by_another_is_not_named() -> None:
    hides = {"pad": 0.9, "keys": 0.8, "bass": 0.1, "kick": 0.1, "snare": 0.2, "hats": 0.2}
    made = moves_for({"lead": 14.0}, hides)
    assert [move.names for move in made.moves] == [("lead",)]
    assert all(off_db == pytest.approx(0.0, abs=3.0) for name, off_db in zip(NAMES, made.offs_db, strict=True) if name != "lead")


def test_two_faults_are_two_moves_the_clearer_first() -> None:
    moves = moves_for({"pad": 14.0, "kick": -10.0}).moves
    assert [move.names for move in moves] == [("pad",), ("kick",)]


def test_no_more_than_three() -> None:
    assert len(moves_for({"kick": 12.0, "bass": -12.0, "pad": 13.0, "lead": -14.0}).moves) == 3


def test_with_fewer_than_three_to_compare_nothing_is_known() -> None:
    made = moves_for({"kick": 12.0}, unknown=NAMES[2:])
    assert made.moves == ()
    assert set(made.offs_db) == {None}


def test_units_are_what_is_known_and_no_group_that_is_all_there_is() -> None:
    assert units(IDENTITIES[:3], (0.0, 0.0, 0.0)) == [(0,), (1,), (2,)]
    assert units(IDENTITIES[:4], (0.0, None, 0.0, 0.0)) == [(0,), (2,), (3,), (0, 2)]
