"""Tone among songs: smooth, farther for a larger fault, and shrunk as a whole."""

from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from features.outcomes.tone_faults import Deviation, fault_covariance, tone_deviation, tone_faults, tone_nats
from features.records.spectrum import Spectrum
from features.tone.matched_filter import bell_db, in_bands, low_shelf_db
from features.tone.target import general_target
from tests import records

MODEL = general_target()
HZ = np.array(MODEL.record.third_octave_hz)
Floats = NDArray[np.float64]


def song(change_db: Floats) -> Spectrum:
    """Return the middle of the songs with a change."""
    curve = np.array(MODEL.record.third_octave_db)
    rows = np.searchsorted(HZ, MODEL.model_hz * 0.99)
    assert MODEL.centre_db is not None
    curve[rows] = MODEL.centre_db
    return records.spectrum(third_octave_hz=tuple(HZ.tolist()), third_octave_db=tuple((curve + change_db).tolist()))


def bell(hz: float, gain_db: float, q: float = 1.0) -> Floats:
    return in_bands(HZ, lambda at: bell_db(at, hz, q, gain_db))


def nats(change_db: Floats) -> float:
    unlikeliness = tone_nats(song(change_db), MODEL)
    assert unlikeliness is not None
    return unlikeliness


def test_the_middle_of_the_songs_is_likeliest_and_level_says_nothing() -> None:
    assert nats(np.zeros(len(HZ))) == pytest.approx(0.0, abs=1e-9)
    assert nats(np.full(len(HZ), 6.0)) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("hz", [80.0, 250.0, 550.0, 1600.0, 3200.0, 8000.0])
@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_a_larger_planted_fault_is_never_nearer(hz: float, sign: float) -> None:
    by_gain = [nats(bell(hz, sign * gain)) for gain in np.arange(0.0, 16.0, 0.5)]
    assert all(after > before for before, after in pairwise(by_gain))


def test_likelihood_runs_smoothly_past_every_tolerance() -> None:
    by_gain = np.array([nats(bell(250.0, gain)) for gain in np.arange(0.0, 16.0, 0.1)])
    slopes = np.diff(by_gain) / 0.1
    assert np.abs(np.diff(slopes)).max() < 0.03  # nats per dB, from one tenth of a dB to the next
    assert slopes.max() > 0.5


def test_one_decibel_where_songs_are_alike_says_more_than_where_they_differ() -> None:
    assert nats(bell(1600.0, 6.0)) > 1.5 * nats(bell(63.0, 6.0))


def test_the_expected_fault_is_a_part_of_the_planted_one_at_its_place() -> None:
    deviation = tone_deviation(song(bell(550.0, 9.0)), MODEL)
    assert deviation is not None
    said = tone_faults(deviation, fault_share=1.0)
    planted = bell(550.0, 9.0)[np.searchsorted(HZ, deviation.band_hz * 0.99)]
    planted -= planted.mean()
    estimate = said.expected_db - said.expected_db.mean()
    share = float(estimate @ planted / (planted @ planted))
    assert 0.2 < share < 0.9
    assert abs(np.log2(deviation.band_hz[int(np.argmax(estimate))] / 550.0)) <= 0.34


def test_a_song_in_the_middle_is_left_alone() -> None:
    deviation = tone_deviation(song(np.zeros(len(HZ))), MODEL)
    assert deviation is not None
    said = tone_faults(deviation)
    assert np.abs(said.expected_db).max() < 1e-9


def test_more_expected_faults_move_more() -> None:
    deviation = tone_deviation(song(in_bands(HZ, lambda at: low_shelf_db(at, 100.0, 8.0))), MODEL)
    assert deviation is not None
    sizes = [float(np.linalg.norm(tone_faults(deviation, fault_share=share).expected_db)) for share in (0.1, 0.3, 1.0, 4.0)]
    assert sizes == sorted(sizes)
    assert sizes[0] < 0.5 * sizes[-1]


@pytest.mark.parametrize(("share", "most_moved", "least_closed"), [(0.3, 0.3, 0.08), (1.0, 0.75, 0.2), (4.0, 1.8, 0.45)])
def test_what_is_closed_of_a_fault_is_bought_with_what_songs_as_they_are_are_moved(
    share: float, most_moved: float, least_closed: float
) -> None:
    """Draw songs from their own covariance; a calculation on finished songs gave 0.35, 1.0, 2.3 dB moved and 9, 24, 48 % closed."""
    hz, songs = MODEL.model_hz, MODEL.covariance
    drawn = np.random.default_rng(2).multivariate_normal(np.zeros(len(hz)), songs, 60)
    fault = in_bands(hz, lambda at: bell_db(at, 550.0, 1.0, 7.0))
    moved, closed = [], []
    for made in drawn:
        plain, planted = (tone_faults(Deviation(hz, made + extra * fault, songs), fault_share=share).expected_db for extra in (0.0, 1.0))
        moved.append(float(np.std(plain)))
        answer = planted - plain
        closed.append(float((answer - answer.mean()) @ (fault - fault.mean()) / np.sum((fault - fault.mean()) ** 2)))
    assert np.mean(moved) < most_moved
    assert np.mean(closed) > least_closed


def test_usual_faults_bend_neighbours_alike() -> None:
    covariance = fault_covariance(MODEL.model_hz)
    scale = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(scale, scale)
    assert correlation[10, 11] > 0.8
    assert np.linalg.eigvalsh(covariance).min() > -1e-9


def test_too_few_bands_say_nothing() -> None:
    assert tone_deviation(records.spectrum(third_octave_hz=(20.0, 25.0), third_octave_db=(0.0, 0.0)), MODEL) is None
    assert tone_nats(records.spectrum(third_octave_hz=(), third_octave_db=()), MODEL) is None
