"""Published values of the auditory scales and of spreading that the hit measurement rests on."""

import numpy as np
import pytest

from features.hearing.masking import bark, spreading_db


# Traunmueller 1990, formula without end corrections; 8.527432 at 1 kHz is also printed in a public test, the rest follow from it.
@pytest.mark.parametrize(
    ("hz", "place"), [(50.0, 0.137), (100.0, 0.771), (500.0, 4.919), (1000.0, 8.527432), (4000.0, 17.463), (15500.0, 23.270)]
)
def test_bark(hz: float, place: float) -> None:
    assert float(bark(np.array([hz]))[0]) == pytest.approx(place, abs=6e-4)


# Schroeder, Atal and Hall 1979, spreading function; values computed from the published formula.
@pytest.mark.parametrize(
    ("distance", "level"),
    [(-3.0, -50.68), (-2.0, -27.56), (-1.0, -7.91), (-0.5, -1.89), (0.0, 0.0), (1.0, -4.31), (2.0, -12.33), (4.0, -30.86)],
)
def test_spreading(distance: float, level: float) -> None:
    assert float(spreading_db(np.array([distance]))[0]) == pytest.approx(level, abs=0.006)


def test_slopes_far_from_the_masker() -> None:
    """+25 dB per Bark below, -10 dB per Bark above (the asymptotes stated with the formula)."""
    level = spreading_db(np.array([-41.0, -40.0, 40.0, 41.0]))
    assert level[1] - level[0] == pytest.approx(25.0, abs=0.02)
    assert level[3] - level[2] == pytest.approx(-10.0, abs=0.02)
