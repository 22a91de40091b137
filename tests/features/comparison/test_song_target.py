"""The target made of reference songs: its middle, its spread, its covariance, and what a song of the shelf looks like against it."""

import math

import numpy as np
import pytest

from features.comparison.moderated_statistics import robust_moderated_spread, robust_variance
from features.comparison.song_kind import kinds
from features.comparison.song_target import song_target
from features.records.balance import Usual
from features.tone.balance import measure_balance
from features.tone.matched_filter import bell_db, high_shelf_db, low_shelf_db
from features.tone.spectrum import middle_mean
from features.tone.target import Floats, TargetModel, general_target
from tests import records

GENERAL, KIND = general_target(), kinds()
HZ = np.array(GENERAL.record.third_octave_hz)
MIDDLE = np.array(GENERAL.record.third_octave_db)


def curve(added: Floats | float = 0.0) -> list[float]:
    shape = MIDDLE + added
    return [float(value) for value in shape - middle_mean(shape, HZ)]


def scattered(count: int, spread_db: float, seed: int = 3) -> list[list[float]]:
    """Return curves that differ smoothly, as songs do."""
    chance = np.random.default_rng(seed)
    octave = np.log2(HZ / 1000)
    return [
        curve(spread_db * (chance.normal() * octave / 2 + chance.normal() * np.sin(octave) + 0.3 * chance.normal(size=HZ.size)))
        for _ in range(count)
    ]


def target(curves: list[list[float]], tops_hz: list[float | None] | None = None, usual: tuple[Usual, ...] = ()) -> TargetModel:
    return song_target(curves, tops_hz or [None] * len(curves), [-5.0] * len(curves), "your references", usual)


def test_one_song_is_the_target_itself_with_the_spread_of_its_kind_doubled_in_power() -> None:
    own = curve(np.sin(np.log2(HZ)))
    record = target([own]).record
    assert record.third_octave_db == pytest.approx(own)
    assert record.spread_db == pytest.approx([value * math.sqrt(2) for value in KIND.spread_db])
    assert (record.songs, record.tilt_db_per_octave) == (1, -5.0)
    assert record.tilt_spread_db_per_octave == pytest.approx(KIND.tilt_spread_db_per_octave * math.sqrt(2))


def test_the_middle_is_the_median_and_the_spread_is_moderated_with_that_of_a_kind_as_wide_as_the_shelf() -> None:
    curves = scattered(7, 3.0)
    record = target(curves).record
    medians = np.median(np.array(curves), axis=0)
    assert record.third_octave_db == pytest.approx(medians - middle_mean(medians, HZ))
    band, used = 17, (HZ > 24.0) & (HZ < 15000.0)
    shares = [robust_variance([curve[number] for curve in curves]) / KIND.spread_db[number] ** 2 for number in np.flatnonzero(used)]
    scale = math.sqrt((8 + 4 * 6 * float(np.mean(shares))) / (8 + 4 * 6))  # four bands' worth of seven songs, beside eight for the usual
    expected = robust_moderated_spread([curve[band] for curve in curves], scale * KIND.spread_db[band]) * math.sqrt(1 + 1 / 7)
    assert record.spread_db[band] == pytest.approx(expected)


def test_one_song_unlike_the_rest_hardly_widens_the_shelf() -> None:
    curves = scattered(8, 1.0)
    odd = [*curves[:7], curve(np.where(HZ > 2000, -25.0, 0.0))]
    plain, with_odd = (np.array(target(songs).record.spread_db) for songs in (curves, odd))
    assert np.median(with_odd / plain) < 1.25
    assert with_odd[25] < 0.5 * np.std([curve[25] for curve in odd], ddof=1)


def test_a_shelf_of_several_kinds_is_wider_than_one_kind() -> None:
    narrow, wide = (target(scattered(8, spread)).record.tilt_spread_db_per_octave for spread in (0.5, 6.0))
    assert wide > 1.5 * narrow  # slopes alike: all bands together tell


def test_many_songs_that_agree_narrow_the_spread_and_the_search() -> None:
    few, many = (target(scattered(count, 0.5)) for count in (3, 40))
    assert many.record.spread_db[17] < 0.5 * few.record.spread_db[17]
    planted = records.spectrum(third_octave_db=tuple(curve(bell_db(HZ, 500.0, 1.0, 5.0))), tilt_db_per_octave=-5.0)
    strengths = [measure_balance(planted, target_model).bells[0].strength for target_model in (few, many)]
    assert strengths[1] > 1.5 * strengths[0]


@pytest.mark.parametrize("count", [1, 2, 3, 8, 60])
def test_the_covariance_can_be_inverted_and_has_the_spreads(count: int) -> None:
    model = target(scattered(count, 3.0))
    values = np.linalg.eigvalsh(model.covariance)
    assert values.min() > 1e-3
    assert model.covariance == pytest.approx(model.covariance.T)
    used = [model.record.spread_db[int(np.argmin(np.abs(HZ - hz)))] for hz in model.model_hz]
    assert np.sqrt(np.diag(model.covariance)) == pytest.approx(np.array(used), rel=0.02)


def test_a_song_of_the_shelf_has_no_deviation_from_itself() -> None:
    own = curve(2 * np.sin(np.log2(HZ)))
    balance = measure_balance(records.spectrum(third_octave_db=tuple(own), tilt_db_per_octave=-5.0), target([own]))
    assert balance.deviation_db == pytest.approx([0.0] * HZ.size, abs=1e-9)
    assert balance.bells == ()
    assert balance.tilt_deviation_db_per_octave == 0.0


def test_a_wall_is_no_choice_of_tone() -> None:
    whole, cut = curve(), curve(np.where(HZ > 15000, -60.0, 0.0))
    both = target([whole, cut, cut], [None, 14500.0, 14500.0]).record
    assert both.third_octave_db[-2] == pytest.approx(whole[-2], abs=0.2)  # 16 kHz: the one song that reaches it
    alone = target([cut], [14500.0]).record
    assert alone.third_octave_db[-2] == pytest.approx(whole[-2], abs=0.2)  # none does: the general curve goes on


def test_a_lower_sampling_rate_gives_a_shorter_curve_and_no_harm() -> None:
    record = target([curve()[:28], curve(), curve()]).record
    assert len(record.third_octave_db) == HZ.size
    assert np.isfinite(record.spread_db).all()


def test_a_band_one_song_lacks_leaves_the_correlation_finite() -> None:
    assert np.isfinite(target([curve[:25] if number else curve for number, curve in enumerate(scattered(6, 3.0))]).covariance).all()


def test_songs_that_do_not_reach_10_khz_take_the_general_slope() -> None:
    record = song_target([curve()[:25]], [None], [], "your reference").record
    assert record.tilt_db_per_octave == GENERAL.record.tilt_db_per_octave


@pytest.mark.parametrize(("hz", "gain_db", "kind"), [(60.0, 12.0, "low_shelf"), (4000.0, -12.0, "high_shelf")])
def test_an_end_unlike_the_references_is_told_as_a_shelf(hz: float, gain_db: float, kind: str) -> None:
    response = low_shelf_db if kind == "low_shelf" else high_shelf_db
    moved = records.spectrum(third_octave_db=tuple(curve(response(HZ, hz, gain_db))), tilt_db_per_octave=-5.0)
    first = measure_balance(moved, target(scattered(8, 1.0))).shelves[0]
    assert first.kind == kind
    assert first.strength * gain_db > 0.0
