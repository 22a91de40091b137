"""Benefit: gained less lost less moved; who is advised, and with how much."""

from dataclasses import replace
from math import sqrt

import pytest

from advisor.outcomes.benefit import Benefit, Worth, benefit, worth_of
from advisor.outcomes.moved import Moved, distance_moved
from advisor.outcomes.outcomes import Damage, ElementHeard, ElementStands, Outcomes, Playback, Stand

STILL = Moved(0.0, 0.0, 0.0, 0.0)
OCTAVES_HZ = tuple(31.25 * 2**step for step in range(10))
PLAIN = Outcomes(
    room_lu=-2.0,
    hits_heard=0.5,
    elements_heard=(),
    tone_nats=3.0,
    levels_nats=None,
    playback=Playback(1.0, 0.5, 0.0, 0.0),
    damage=Damage(-10.0, 0.5, 0.5),
    stand=Stand(OCTAVES_HZ, (0.0,) * 10, (), -10.0, 0.0),
)


def made(tone: float = 0.0, room: float = 0.0, moved: Moved = STILL) -> Benefit:
    return Benefit(Worth(room=room, audibility=0.0, tone=tone, mono=0.0, damage=None), moved)


def test_nothing_done_is_worth_nothing() -> None:
    nothing_done = benefit(PLAIN, PLAIN)
    assert (nothing_done.gained, nothing_done.lost, nothing_done.total, nothing_done.moved) == (0.0, 0.0, 0.0, STILL)
    assert not nothing_done.advised


def test_gained_lost_and_moved_add_up() -> None:
    summed = made(tone=3.0, room=-0.8, moved=Moved(3.0, 0.0, 0.0, 4.0))
    assert summed.gained == 3.0
    assert summed.lost == pytest.approx(0.8)
    assert summed.moved.steps == pytest.approx(5.0)
    assert summed.total == pytest.approx(3.0 - 0.8 - 0.5 * (sqrt(26.0) - 1.0))


def test_a_step_of_each_outcome_is_a_step_of_benefit() -> None:
    assert benefit(PLAIN, replace(PLAIN, room_lu=-1.5)).total == pytest.approx(1.0)
    assert benefit(PLAIN, replace(PLAIN, hits_heard=0.55)).total == pytest.approx(1.0)
    assert benefit(PLAIN, replace(PLAIN, tone_nats=2.0)).total == pytest.approx(1.0)
    assert benefit(replace(PLAIN, playback=Playback(4.0, 0.5, 0.0, 0.0)), replace(PLAIN, playback=Playback(3.5, 0.5, 0.0, 0.0))).total == (
        pytest.approx(1.0)
    )


def test_a_lean_counts_either_way() -> None:
    left, right = (replace(PLAIN, playback=Playback(1.0, 0.5, 0.0, lean)) for lean in (5.0, -5.0))
    assert worth_of(left) == worth_of(right)
    assert benefit(left, PLAIN).change.mono == pytest.approx(3.8 + 0.5 * (1 - 2.718281828**-2.4), abs=1e-6)


def test_a_move_that_loses_an_outcome_by_more_than_a_step_is_not_advised() -> None:
    assert made(tone=4.0, room=-0.9).advised
    assert not made(tone=9.0, room=-1.1).advised


def test_a_gain_of_less_than_a_step_or_bought_with_too_long_a_way_is_not_advised() -> None:
    assert not made(tone=0.9).advised
    assert made(tone=2.0).advised
    assert not made(tone=2.0, moved=Moved(4.0, 0.0, 0.0, 0.0)).advised


def test_what_is_not_heard_is_not_missed() -> None:
    assert made(moved=Moved(0.3, 0.0, 0.0, 0.0)).cost_of_moving < 0.03
    assert made(moved=Moved(10.0, 0.0, 0.0, 0.0)).cost_of_moving > 4.0


def test_the_least_audible_main_element_counts_most() -> None:
    before = replace(PLAIN, elements_heard=(ElementHeard("lead", 0.2), ElementHeard("bass", 0.4)))
    lead, bass = (
        replace(PLAIN, elements_heard=(ElementHeard("lead", shares[0]), ElementHeard("bass", shares[1])))
        for shares in ((0.3, 0.4), (0.2, 0.5))
    )
    assert benefit(before, lead).change.audibility == pytest.approx(2.0)
    assert 0.0 < (benefit(before, bass).change.audibility or 0.0) < 1.0


def test_an_element_that_only_one_of_both_has_does_not_count() -> None:
    before = replace(PLAIN, elements_heard=(ElementHeard("lead", 0.3),))
    after = replace(PLAIN, elements_heard=(ElementHeard("noise", 0.01), ElementHeard("lead", 0.3)))
    assert benefit(before, after).change.audibility == 0.0


def test_what_only_one_of_both_has_measured_does_not_count() -> None:
    common = benefit(PLAIN, replace(PLAIN, room_lu=None, damage=None))
    assert (common.change.room, common.change.damage, common.total) == (None, None, 0.0)


def test_damage_of_different_kinds_adds_up_in_squares() -> None:
    damaged = benefit(replace(PLAIN, damage=Damage(-60.0, 3.0, 6.0)), replace(PLAIN, damage=Damage(-60.0, 0.0, 0.0)))
    assert damaged.change.damage == pytest.approx(5.0)


def test_distance_is_the_root_mean_square_over_octaves_and_elements() -> None:
    outcomes = replace(PLAIN, stand=Stand(OCTAVES_HZ, (0.0,) * 10, (ElementStands("kick", -4.0), ElementStands("bass", -6.0)), -10.0, 0.5))
    other = replace(
        outcomes, stand=Stand(OCTAVES_HZ, (3.0, *(0.0,) * 9), (ElementStands("kick", -1.0), ElementStands("pad", -6.0)), -12.0, -0.5)
    )
    moved = distance_moved(outcomes, other)
    assert (moved.tone_db, moved.levels_db, moved.width_db, moved.lean_db) == pytest.approx((3.0 / sqrt(10.0), 3.0, 2.0, 1.0))
    assert moved == distance_moved(other, outcomes)
    assert distance_moved(outcomes, outcomes) == STILL
