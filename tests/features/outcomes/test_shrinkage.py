"""Shrinkage against closed forms and sums worked out by hand."""

import numpy as np
import pytest

from features.outcomes.shrinkage import expected_faults, no_more_than

RNG = np.random.default_rng(4)


def covariance(size: int, seed: int) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    root = np.random.default_rng(seed).standard_normal((size, size + 2))
    return root @ root.T / size + 0.3 * np.eye(size)


def test_a_vector_without_covariance_is_shrunk_band_by_band() -> None:
    deviation, songs, faults = np.array([9.0, -4.0, 1.0]), np.array([4.0, 3.0, 2.0]), np.array([2.0, 6.0, 1.0])
    together = expected_faults(deviation, np.diag(songs**2), np.diag(faults**2))
    assert together == pytest.approx([9.0 * 4.0 / 20.0, -4.0 * 36.0 / 45.0, 1.0 * 1.0 / 5.0])  # d F / (F + N)


def test_the_whole_vector_has_the_least_error_that_a_linear_estimate_can_have() -> None:
    songs, faults = covariance(5, 1), covariance(5, 2)
    fault = RNG.multivariate_normal(np.zeros(5), faults, 40_000)
    reading = fault + RNG.multivariate_normal(np.zeros(5), songs, 40_000)
    fitted = np.linalg.lstsq(reading, fault, rcond=None)[0].T
    estimate = np.stack([expected_faults(row, songs, faults) for row in np.eye(5)], axis=1)
    assert estimate == pytest.approx(fitted, abs=0.03)


def test_what_is_free_says_nothing() -> None:
    songs, faults, free = covariance(6, 3), covariance(6, 4), np.ones((6, 1))
    deviation = RNG.standard_normal(6)
    raised = deviation + 12.0
    assert expected_faults(raised, songs, faults, free) == pytest.approx(expected_faults(deviation, songs, faults, free))


@pytest.mark.parametrize(("amount", "excess", "left"), [(4.2, 3.0, 3.0), (2.0, 3.0, 2.0), (-4.2, -3.0, -3.0), (4.2, -1.0, 0.0)])
def test_no_more_is_taken_than_lies_past_the_ordinary(amount: float, excess: float, left: float) -> None:
    assert no_more_than(amount, excess) == left
