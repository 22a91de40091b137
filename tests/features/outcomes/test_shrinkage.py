"""Shrinkage against closed forms and sums worked out by hand."""

import numpy as np
import pytest

from features.outcomes.shrinkage import Candidate, among, chance_of_any, expected_faults, no_more_than, posterior

RNG = np.random.default_rng(4)


def density(value: float, spread: float) -> float:
    return float(np.exp(-0.5 * (value / spread) ** 2) / (spread * np.sqrt(2 * np.pi)))


def covariance(size: int, seed: int) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    root = np.random.default_rng(seed).standard_normal((size, size + 2))
    return root @ root.T / size + 0.3 * np.eye(size)


@pytest.mark.parametrize(("song", "fault", "share"), [(6.0, 6.0, 0.5), (3.0, 6.0, 0.8), (6.0, 3.0, 0.2), (5.0, 0.0, 0.0)])
def test_a_scalar_is_shrunk_by_the_share_of_variance_that_faults_have(song: float, fault: float, share: float) -> None:
    shrunk = posterior(-10.0, song, fault)
    assert shrunk.expected_db == pytest.approx(-10.0 * share)
    assert shrunk.spread_db == pytest.approx(song * np.sqrt(share))
    assert shrunk.chance == 1.0


@pytest.mark.parametrize("deviation", [0.0, 2.0, 7.0, -15.0])
def test_the_chance_of_a_fault_is_bayes_rule(deviation: float) -> None:
    with_fault, without = density(deviation, 5.0), density(deviation, 3.0)
    by_hand = 0.3 * with_fault / (0.3 * with_fault + 0.7 * without)
    shrunk = posterior(deviation, 3.0, 4.0, base_rate=0.3)
    assert shrunk.chance == pytest.approx(by_hand)
    assert shrunk.expected_db == pytest.approx(by_hand * deviation * 16.0 / 25.0)


def test_the_posterior_mean_is_what_faults_are_in_the_mean() -> None:
    faulty = RNG.random(400_000) < 0.4
    fault = np.where(faulty, RNG.normal(0.0, 5.0, faulty.size), 0.0)
    reading = fault + RNG.normal(0.0, 4.0, faulty.size)
    near = np.abs(reading - 8.0) < 0.25
    shrunk = posterior(8.0, 4.0, 5.0, base_rate=0.4)
    assert shrunk.chance == pytest.approx(float(faulty[near].mean()), abs=0.02)
    assert shrunk.expected_db == pytest.approx(float(fault[near].mean()), abs=0.15)


def test_a_reading_that_is_ordinary_speaks_against_a_fault() -> None:
    assert posterior(0.0, 3.0, 6.0, base_rate=0.5).chance < 0.5 < posterior(9.0, 3.0, 6.0, base_rate=0.5).chance


def test_a_vector_without_covariance_is_shrunk_band_by_band() -> None:
    deviation, songs, faults = np.array([9.0, -4.0, 1.0]), np.array([4.0, 3.0, 2.0]), np.array([2.0, 6.0, 1.0])
    together = expected_faults(deviation, np.diag(songs**2), np.diag(faults**2))
    apart = [posterior(*row).expected_db for row in zip(deviation, songs, faults, strict=True)]
    assert together == pytest.approx(apart)


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
    assert chance_of_any(raised, songs, faults, 0.3, free) == pytest.approx(chance_of_any(deviation, songs, faults, 0.3, free))


def test_the_chance_of_any_fault_with_a_free_level_is_that_of_the_differences() -> None:
    songs, faults = np.diag([4.0, 5.0]), np.diag([9.0, 0.0])
    difference = posterior(7.0, 3.0, 3.0, base_rate=0.2)  # 4 + 5 between songs, 9 by fault
    assert chance_of_any(np.array([7.0, 0.0]), songs, faults, 0.2, np.ones((2, 1))) == pytest.approx(difference.chance)


def test_a_single_candidate_is_the_scalar_case() -> None:
    scalar = posterior(6.0, 3.0, 4.0, base_rate=0.3)
    result = among(np.array([6.0]), np.array([[9.0]]), [Candidate(np.array([1.0]), 4.0, 0.3)])
    assert result.chances[0] == pytest.approx(scalar.chance)
    assert result.none == pytest.approx(1.0 - scalar.chance)
    assert result.expected_db[0] == pytest.approx(scalar.expected_db)


def test_among_several_candidates_the_densities_decide() -> None:
    songs, deviation = np.diag([4.0, 9.0]), np.array([5.0, 1.0])
    shapes = (np.array([1.0, 0.0]), np.array([1.0, 1.0]))
    result = among(deviation, songs, [Candidate(shape, 6.0, 0.25) for shape in shapes])
    sizes = [songs, *(songs + 36.0 * np.outer(shape, shape) for shape in shapes)]
    by_hand = np.array(
        [np.exp(-0.5 * deviation @ np.linalg.solve(covariance, deviation)) / np.sqrt(np.linalg.det(covariance)) for covariance in sizes]
    )
    by_hand *= (0.5, 0.25, 0.25)
    assert np.array([result.none, *result.chances]) == pytest.approx(by_hand / by_hand.sum())


def test_a_candidate_of_one_sign_is_what_such_faults_are_in_the_mean() -> None:
    faulty = RNG.random(400_000) < 0.4
    fault = np.where(faulty, np.abs(RNG.normal(0.0, 4.0, faulty.size)), 0.0)
    reading = fault + RNG.normal(0.0, 3.0, faulty.size)
    for value in (-3.0, 1.0, 6.0):
        near = np.abs(reading - value) < 0.2
        result = among(np.array([value]), np.array([[9.0]]), [Candidate(np.ones(1), 4.0, 0.4, sign=1)])
        assert result.chances[0] == pytest.approx(float(faulty[near].mean()), abs=0.02)
        assert result.expected_db[0] == pytest.approx(float(fault[near].mean()), abs=0.1)


def test_base_rates_cannot_add_up_to_more_than_one() -> None:
    with pytest.raises(ValueError, match="which is more than 1"):
        among(np.zeros(1), np.eye(1), [Candidate(np.ones(1), 6.0, 0.6)] * 2)


@pytest.mark.parametrize(("amount", "excess", "left"), [(4.2, 3.0, 3.0), (2.0, 3.0, 2.0), (-4.2, -3.0, -3.0), (4.2, -1.0, 0.0)])
def test_no_more_is_taken_than_lies_past_the_ordinary(amount: float, excess: float, left: float) -> None:
    assert no_more_than(amount, excess) == left
