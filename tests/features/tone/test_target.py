"""The general target: the published fit in the middle, the table at the ends, and statistics that can be checked by hand."""

import numpy as np
import pytest

from features.tone.target import (
    general_target,
    prior,
    published_fit,
    robust_spread,
    table_from_json,
    table_to_json,
    tabulate,
    weighted_quantile,
)


# Elowsson and Friberg 2017, table 1, as quoted: slopes in dB per octave
@pytest.mark.parametrize(("hz", "slope"), [(200, -2.35), (800, -4.99), (3200, -7.62), (6400, -8.94)])
def test_published_slopes(hz: float, slope: float) -> None:
    step = 2**0.01
    pair = published_fit(np.array([hz / step, hz * step]))
    assert (pair[1] - pair[0]) / 0.02 == pytest.approx(slope, abs=0.02)


def test_published_mean_slope() -> None:
    ends = published_fit(np.array([89.0, 4500.0]))
    assert (ends[1] - ends[0]) / np.log2(4500 / 89) == pytest.approx(-4.53, abs=0.02)


def test_target_is_the_fit_in_the_middle() -> None:
    record = general_target().record
    hz, curve = np.array(record.third_octave_hz), np.array(record.third_octave_db)
    middle = (hz > 250) & (hz < 3200)
    offset = curve - published_fit(hz)
    np.testing.assert_allclose(offset[middle], offset[middle].mean(), atol=1e-9)
    assert curve[(hz > 190) & (hz < 5100)].mean() == pytest.approx(0, abs=1e-9)


def test_target_lies_where_other_songs_were_found() -> None:
    """Above the fit's extrapolation by about 7 dB at 100 Hz and 5 dB at 8-10 kHz (seen on other songs; +-3 dB)."""
    record = general_target().record
    hz, curve = np.array(record.third_octave_hz), np.array(record.third_octave_db)
    over = curve - published_fit(hz)
    over -= over[np.argmin(np.abs(hz - 1000))]
    assert over[7] == pytest.approx(7, abs=3)
    assert over[26:28].mean() == pytest.approx(4, abs=3)
    assert record.tilt_db_per_octave == pytest.approx(-5.3, abs=1)


def test_tolerance_is_never_below_what_songs_naturally_do() -> None:
    record = general_target().record
    spread = dict(zip(np.round(record.third_octave_hz), record.spread_db, strict=True))
    assert min(record.spread_db) >= 3.0
    assert spread[50] >= 8
    assert 5 <= spread[126] <= 7
    assert 5 <= spread[5012] <= 7


def test_covariance_is_positive_and_has_the_spreads() -> None:
    model = general_target()
    assert np.linalg.eigvalsh(model.covariance).min() > 0.1
    np.testing.assert_allclose(model.covariance, model.covariance.T, atol=1e-9)
    used = np.searchsorted(model.record.third_octave_hz, model.model_hz * 0.99)
    low = model.model_hz < 1500  # above, the free treble adds
    np.testing.assert_allclose(np.sqrt(np.diag(model.covariance))[low], np.array(model.record.spread_db)[used][low], rtol=0.02)


def test_robust_statistics() -> None:
    values = np.random.default_rng(2).normal(5, 2, 20001)
    assert robust_spread(values, np.ones(20001)) == pytest.approx(2, rel=0.03)
    assert weighted_quantile(np.array([0.0, 10.0]), np.array([1.0, 3.0]), 0.5) == pytest.approx(7.5)


def test_collections_weigh_as_the_root_of_their_size_and_json_keeps_all() -> None:
    band_hz = np.array(general_target().record.third_octave_hz)
    rng = np.random.default_rng(3)
    curves = np.concatenate([rng.normal(0, 1, (16, 31)), rng.normal(10, 1, (4, 31))])
    table = tabulate(curves, curves[:, 0], band_hz, ["many"] * 16 + ["few"] * 4)
    assert table.songs == 20
    again = table_from_json(table_to_json(table))
    np.testing.assert_allclose(again.median_db, table.median_db, atol=0.006)
    np.testing.assert_allclose(again.correlation, table.correlation, atol=0.0006)
    assert prior(again, "x").record.label == "x"
    # weights 16 / 4 against 4 / 2: one third belongs to the few, so that the 80th percentile lies among them
    weights = np.array([0.25] * 16 + [0.5] * 4)
    assert weighted_quantile(curves[:, 5], weights, 0.8) > 8
    assert table.median_db[5] == pytest.approx(weighted_quantile(curves[:, 5], weights, 0.5))
