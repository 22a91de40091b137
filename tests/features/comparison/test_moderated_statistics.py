"""Statistics for few songs against an independent library, closed forms, and their own promise about false alarms."""

import math

import numpy as np
import pytest
from scipy import stats

from features.comparison.moderated_statistics import (
    FREEDOM,
    PRIOR_SONGS,
    distance,
    level_of,
    moderated_spread,
    more_unusual_than,
    robust_moderated_spread,
    robust_variance,
    sample_variance,
    standing,
    two_sided_chance,
)


@pytest.mark.parametrize("freedom", [1, 2, 3, 8, 9, 15, 40, 57])
@pytest.mark.parametrize("statistic", [0.0, 0.3, -1.0, 2.0, 3.36, -7.0, 30.0])
def test_chance_is_students(statistic: float, freedom: int) -> None:
    assert two_sided_chance(statistic, freedom) == pytest.approx(2 * stats.t.sf(abs(statistic), freedom), abs=1e-12)


def test_chance_of_the_tables() -> None:
    # two-sided 5 % and 1 % points of Student's t with 8 degrees of freedom: 2.306 and 3.355 (any table)
    assert two_sided_chance(2.306, 8) == pytest.approx(0.05, abs=2e-5)
    assert two_sided_chance(3.355, 8) == pytest.approx(0.01, abs=2e-5)


def test_spread_is_the_prior_for_one_song_and_mostly_the_songs_own_for_many() -> None:
    assert moderated_spread([3.0], 2.0) == 2.0
    values = [0.0, 2.0, 4.0]  # variance 4
    assert moderated_spread(values, 1.0) == pytest.approx(math.sqrt((8 * 1 + 2 * 4) / 10))
    many = list(np.random.default_rng(1).normal(0, 3.0, 400))
    assert moderated_spread(many, 1.0) == pytest.approx(math.sqrt(sample_variance(many)), rel=0.02)


def test_robust_variance_is_the_variance_of_a_normal_sample_and_leaves_an_odd_song_where_the_rest_ends() -> None:
    values = list(np.random.default_rng(2).normal(0, 3.0, 4000))
    assert robust_variance(values) == pytest.approx(9.0, rel=0.06)
    few = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    assert robust_variance([*few, 60.0]) == robust_variance([*few, 600.0]) < 2.5 * robust_variance(few)
    assert robust_variance([1.0, 2.0, 30.0]) == sample_variance([1.0, 2.0, 30.0])  # of three, none is odd


def test_robust_spread_is_the_prior_where_there_is_nothing_else() -> None:
    assert robust_moderated_spread([], 2.0) == robust_moderated_spread([7.0], 2.0) == 2.0
    assert robust_moderated_spread([0.0, 2.0, 4.0], 1.0) == moderated_spread([0.0, 2.0, 4.0], 1.0)


def test_standing_is_the_published_formula() -> None:
    place = standing(7.0, [1.0, 2.0, 4.0, 3.0], 2.0)
    spread = math.sqrt((PRIOR_SONGS * 4.0 + 3 * sample_variance([1.0, 2.0, 3.0, 4.0])) / (PRIOR_SONGS + 3))
    assert (place.median, place.low, place.high, place.difference) == (2.5, 1.0, 4.0, 4.5)
    assert place.t_value == pytest.approx(4.5 / (spread * math.sqrt(1.25)))
    assert place.chance == pytest.approx(2 * stats.t.sf(place.t_value, FREEDOM))
    assert (place.above, place.below) == (4, 0)


def test_a_song_like_the_others_stands_in_the_middle() -> None:
    place = standing(2.0, [1.0, 2.0, 3.0], 1.0)
    assert (place.t_value, place.chance, place.above, place.below) == (0.0, 1.0, 1, 1)


@pytest.mark.parametrize(
    ("value", "readings", "word"),
    [(0.9, 8, "like"), (1.5, 8, "little"), (3.0, 8, "noticeable"), (3.0, 1, "outside"), (-3.0, 1, "outside"), (4.5, 8, "outside")],
)
def test_how_far_out_has_its_word_and_more_readings_ask_for_more(value: float, readings: int, word: str) -> None:
    others = [-1.0, -0.5, 0.0, 0.5, 1.0] * 4
    assert level_of(standing(value * moderated_spread(others, 1.0) * math.sqrt(1.05), others, 1.0), readings) == word


def test_what_others_do_too_is_never_outside() -> None:
    crowd = [0.0] * 27
    assert level_of(standing(9.0, [*crowd, 0.0, 0.0, 0.0], 1.0), 8) == "outside"
    assert level_of(standing(9.0, [*crowd, 0.0, 0.0, 9.5], 1.0), 8) == "noticeable"
    assert level_of(standing(9.0, [*[0.0] * 13, 9.0, 9.5, 10.0], 1.0), 8) == "little"


@pytest.mark.parametrize("count", [5, 8, 12, 30])
def test_of_normal_songs_hardly_one_in_twenty_is_called_outside(count: int) -> None:
    chance = np.random.default_rng(count)
    called = 0
    for _ in range(600):
        songs = chance.normal(size=(count + 1, 8))
        standings = [standing(songs[0, k], list(songs[1:, k]), 1.0) for k in range(8)]
        called += any(level_of(place, 8) == "outside" for place in standings)
    assert called <= 0.06 * 600


def test_too_small_a_prior_is_made_up_for_by_the_songs_themselves() -> None:
    chance = np.random.default_rng(5)
    wide = [standing(draw[0], list(draw[1:]), 0.5) for draw in chance.normal(size=(400, 31))]
    assert np.mean([place.chance < 0.05 for place in wide]) < 0.07


def test_distance_takes_what_both_have() -> None:
    assert distance([1.0, None, 5.0], [3.0, 2.0, None], [2.0, 1.0, 1.0]) == 1.0
    assert distance([None], [1.0], [1.0]) == 0.0


def test_the_whole_is_ranked_by_leaving_one_out() -> None:
    others: list[list[float | None]] = [[float(value)] for value in (-2, -1, 0, 1, 2)]
    assert more_unusual_than([9.0], others, [1.0]) == 5
    assert more_unusual_than([0.0], others, [1.0]) == 0
    # leaving out the outermost leaves the median at 0.5 away from 0: they lie 2.5 from the rest, the song 2.2 from all
    assert more_unusual_than([2.2], others, [1.0]) == 3


def test_ranks_of_songs_of_one_kind_are_uniform() -> None:
    chance = np.random.default_rng(9)
    songs = chance.normal(size=(500, 9, 4))
    top = [more_unusual_than(list(rows[0]), [list(row) for row in rows[1:]], [1.0] * 4) == 8 for rows in songs]
    assert np.mean(top) == pytest.approx(1 / 9, abs=0.04)
