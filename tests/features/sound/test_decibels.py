"""Decibels and back."""

import math

import numpy as np
import pytest

from features.sound.decibels import FLOOR_DB, amplitude_to_db, amplitudes_to_db, db_to_amplitude, db_to_power, power_to_db, powers_to_db


@pytest.mark.parametrize("db", [-120.0, -3.0, 0.0, 24.0])
def test_there_and_back(db: float) -> None:
    assert power_to_db(db_to_power(db)) == pytest.approx(db)
    assert amplitude_to_db(db_to_amplitude(db)) == pytest.approx(db)
    assert amplitude_to_db(-db_to_amplitude(db)) == pytest.approx(db)
    assert powers_to_db([db_to_power(db)])[0] == pytest.approx(db)
    assert amplitudes_to_db([-db_to_amplitude(db)])[0] == pytest.approx(db)


@pytest.mark.parametrize("value", [0.0, math.nan, math.inf])
def test_what_has_no_level_is_none(value: float) -> None:
    assert power_to_db(value) is None
    assert amplitude_to_db(value) is None


def test_negative_power_has_no_level() -> None:
    assert power_to_db(-1.0) is None


def test_arrays_stop_at_the_floor() -> None:
    assert powers_to_db(np.zeros((2, 3))).tolist() == [[FLOOR_DB] * 3] * 2
    assert powers_to_db([1e-9, 1.0], floor_db=-60.0).tolist() == [-60.0, 0.0]
    assert amplitudes_to_db([0.0, 1e-30]).tolist() == [FLOOR_DB, FLOOR_DB]
