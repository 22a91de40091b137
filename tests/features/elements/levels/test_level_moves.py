"""Few faders explain many readings: on elements whose positions follow their faders, and that hide one another."""

import numpy as np
import pytest

from features.elements.identity import Identity
from features.elements.levels.level_moves import (
    BASE_RATE,
    FADER_SPREAD_DB,
    LEAST_CHANCE,
    SONG_SCALE_DB,
    Gains,
    Moves,
    Stand,
    find_moves,
    levels_nats,
    posterior,
    units_of,
)
from features.records.elements import GroupName

GROUPS: dict[str, GroupName] = {
    "kick": "drums", "snare": "drums", "hats": "drums", "bass": "bass", "pad": "music", "keys": "music", "lead": "music",
}  # fmt: skip
NAMES = tuple(GROUPS)
IDENTITIES = [Identity(name, "other", group, "name", 2, 44100) for name, group in GROUPS.items()]


def moves_of(planted: dict[str, float], hides: dict[str, float] | None = None, unknown: tuple[str, ...] = ()) -> Moves:
    """Return the moves in a song where all stand right but for ``planted``; the lead pushes others down by ``hides`` for each dB up."""

    def at(gains: Gains) -> Stand:
        faders = {name: planted.get(name, 0.0) + gain for name, gain in zip(NAMES, gains, strict=True)}
        sunk = {name: (hides or {}).get(name, 0.0) * max(faders["lead"], 0.0) for name in NAMES}
        positions = tuple(None if name in unknown else faders[name] - sunk[name] for name in NAMES)
        return Stand(positions, positions, positions)

    return find_moves(IDENTITIES, at)


@pytest.mark.parametrize("off_db", [-16.0, -12.0, 12.0, 16.0])
@pytest.mark.parametrize("name", NAMES)
def test_one_fader_is_named_alone_with_less_than_it_lies_off(name: str, off_db: float) -> None:
    moves = moves_of({name: off_db}).moves
    assert [(move.names, move.group) for move in moves] == [((name,), None)]
    assert 0.4 < moves[0].expected_db / off_db < 1.0
    assert moves[0].chance > 0.6
    assert moves[0].off_db * moves[0].chance == pytest.approx(moves[0].expected_db)


def test_the_further_off_the_likelier_and_never_by_a_jump() -> None:
    groups = [identity.group for identity in IDENTITIES]
    said = [posterior(groups, (off_db, *[0.0] * (len(NAMES) - 1))) for off_db in np.arange(0.0, 16.0, 0.25)]
    chances, expected = (
        np.array([posterior_given.chances[0] for posterior_given in said]),
        np.array([posterior_given.expected_db[0] for posterior_given in said]),
    )
    assert (np.diff(expected) > 0.0).all()
    assert np.diff(expected).max() < 0.4
    assert (np.diff(chances[8:]) > 0.0).all()


def test_songs_as_such_elements_usually_stand_are_not_moved() -> None:
    """Of songs drawn with the spread that elements have, few are moved, and those little: by the measured spread of 4.6 dB."""
    draw = np.random.default_rng(5).standard_t(8, (200, len(NAMES))) * 4.6 / np.sqrt(8 / 6)
    moved = [moves_of(dict(zip(NAMES, row, strict=True))).moves for row in draw]
    assert np.mean([len(moves) == 0 for moves in moved]) > 0.5
    sizes = [np.sqrt(sum(move.expected_db**2 * len(move.names) for move in moves) / len(NAMES)) for moves in moved]
    assert np.mean(sizes) < 1.0


def test_the_posterior_is_what_faults_are_in_the_mean() -> None:
    """Songs drawn as the model has them: half of the faults on one fader, half on a group, each with its own size."""
    draw = np.random.default_rng(11)
    groups = [identity.group for identity in IDENTITIES]
    units = units_of(groups, range(len(NAMES)))
    singles, together = ([unit for unit in units if (len(unit) == 1) == alone] for alone in (True, False))
    said, true = [], []
    for _ in range(3000):
        fault = np.zeros(len(NAMES))
        if draw.random() < BASE_RATE:
            kind = singles if draw.random() < 0.5 else together
            fault[list(kind[draw.integers(len(kind))])] = np.clip(draw.normal(0.0, FADER_SPREAD_DB), -16.0, 16.0)
        noise = draw.standard_normal(len(NAMES)) * SONG_SCALE_DB / np.sqrt(draw.chisquare(8) / 8)
        said.append(posterior(groups, tuple(fault + noise)))
        true.append(fault)
    expected, faults = np.array([one_song.expected_db for one_song in said]), np.array(true)
    chances = np.array([one_song.chances for one_song in said])
    right = (faults != 0.0) & (np.sign(faults) == np.sign(expected))
    for low, high in ((0.0, 0.2), (0.2, 0.4), (0.4, 0.7), (0.7, 1.0)):
        inside = (chances >= low) & (chances < high)
        assert right[inside].mean() == pytest.approx(chances[inside].mean(), abs=0.04)
    assert np.polyfit(expected.ravel(), faults.ravel(), 1)[0] == pytest.approx(1.0, abs=0.08)  # of 3000 songs


def test_the_common_level_says_nothing() -> None:
    groups = [identity.group for identity in IDENTITIES]
    plain, raised = (posterior(groups, tuple(level + off for off in (9.0, 0.0, 1.0, -2.0, 0.0, 3.0, 1.0))) for level in (0.0, 6.0))
    assert plain.expected_db == pytest.approx(raised.expected_db)
    assert levels_nats((2.0, 5.0, 3.0)) == pytest.approx(levels_nats((0.0, 3.0, 1.0)))


def test_a_group_that_lies_off_as_one_is_one_move() -> None:
    made = moves_of({"kick": -14.0, "snare": -12.0, "hats": -10.0})
    assert [(move.names, move.group) for move in made.moves] == [(("kick", "snare", "hats"), "drums")]
    assert -12.0 < made.moves[0].expected_db < -6.0


def test_a_group_of_which_one_lies_right_is_none() -> None:
    """Its elements lie apart; what they share is the group's, never more than the least of them."""
    moves = moves_of({"kick": 15.0, "snare": 15.0, "hats": -9.0}).moves
    assert all("hats" not in move.names or move.expected_db < 0.0 for move in moves)


def test_what_is_only_hidden_by_another_is_not_named() -> None:
    hides = {"pad": 0.9, "keys": 0.8, "bass": 0.1, "kick": 0.1, "snare": 0.2, "hats": 0.2}
    assert [move.names for move in moves_of({"lead": 14.0}, hides).moves] == [("lead",)]


def test_nothing_unlikely_is_told() -> None:
    for off_db in np.arange(0.0, 16.0, 1.0):
        assert all(move.chance >= LEAST_CHANCE for move in moves_of({"pad": off_db, "kick": -off_db / 2}).moves)


def test_with_fewer_than_three_to_compare_nothing_is_known() -> None:
    made = moves_of({"kick": 12.0}, unknown=NAMES[2:])
    assert made.moves == ()
    assert set(made.offs_db) == {None}
    assert levels_nats((1.0, None, 4.0)) is None


def test_units_are_what_is_known_and_no_group_that_is_all_there_is() -> None:
    assert units_of(("drums", "drums", "drums"), (0, 1, 2)) == ((0,), (1,), (2,))
    assert units_of(("drums", "bass", "drums", "bass"), (0, 2, 3)) == ((0,), (2,), (3,), (0, 2))
