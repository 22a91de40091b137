"""Windows over a row of values, against sums taken one by one."""

import numpy as np
import pytest

from features.sound.windows import Floats, moving_mean, shortest_run


@pytest.mark.parametrize("width", [1, 2, 5, 8, 30])
def test_a_moving_mean_is_that_of_the_values_in_reach(width: int) -> None:
    values = np.random.default_rng(3).random((20, 2))
    expected = [values[max(at - width // 2, 0) : at - width // 2 + width].mean(axis=0) for at in range(20)]
    assert moving_mean(values, width) == pytest.approx(np.array(expected))
    assert moving_mean(values, width, np.array([0, 7, 19])) == pytest.approx(np.array(expected)[[0, 7, 19]])


def every_run(values: Floats) -> list[tuple[int, int]]:
    return [(first, last) for first in range(len(values)) for last in range(first + 1, len(values) + 1)]


@pytest.mark.parametrize("share", [0.3, 0.7, 0.95])
def test_the_shortest_run_is_the_best_of_all_runs(share: float) -> None:
    chance = np.random.default_rng(5)
    for _ in range(30):
        values = chance.random(chance.integers(1, 15)) ** 3
        enough = [run for run in every_run(values) if values[slice(*run)].sum() >= share * values.sum()]
        best = min(enough, key=lambda run: (run[1] - run[0], -values[slice(*run)].sum()))
        assert shortest_run(values, share) == best


def test_nothing_at_all_is_held_by_its_first_place() -> None:
    assert shortest_run(np.zeros(4), 0.5) == (0, 1)
