"""Bands, weightings and contours against the published tables."""

import numpy as np
import pytest

from features.hearing.equal_loudness import contour, contour_at_table
from features.sound import bands

# IEC 61260-1:2014, exact base-ten third-octave centres
THIRDS = """19.95 25.12 31.62 39.81 50.12 63.10 79.43 100 125.89 158.49 199.53 251.19 316.23 398.11 501.19 630.96 794.33 1000
1258.93 1584.89 1995.26 2511.89 3162.28 3981.07 5011.87 6309.57 7943.28 10000 12589.25 15848.93 19952.62"""


def test_third_octave_centres() -> None:
    np.testing.assert_allclose(bands.third_octaves(48000).centre_hz, [float(hz) for hz in THIRDS.split()], atol=0.006)


def test_third_octave_width_is_23_077_per_cent() -> None:
    thirds = bands.third_octaves(96000)
    np.testing.assert_allclose(thirds.width_hz / thirds.centre_hz, 0.23077, atol=1e-5)


# IEC 61672-1, table values at the exact centres
@pytest.mark.parametrize(
    ("hz", "db"),
    [(10, -70.4), (10**1.5, -39.4), (100, -19.143), (10**2.4, -8.630), (1000, 0), (10**3.3, 1.200), (10**3.9, -1.111), (10**4.2, -6.603)],
)
def test_a_weighting(hz: float, db: float) -> None:
    assert bands.a_weighting(np.array([hz]))[0] == pytest.approx(db, abs=0.05)


# Glasberg and Moore 1990
@pytest.mark.parametrize(
    ("hz", "width_hz", "cam"),
    [
        (50, 30.10, 1.837),
        (100, 35.49, 3.370),
        (500, 78.67, 10.767),
        (1000, 132.64, 15.621),
        (4000, 456.46, 27.107),
        (15500, 1697.75, 39.316),
    ],
)
def test_erb(hz: float, width_hz: float, cam: float) -> None:
    assert bands.erb_width(np.array([hz]))[0] == pytest.approx(width_hz, abs=0.01)
    assert bands.erb_number(np.array([hz]))[0] == pytest.approx(cam, abs=0.001)
    assert bands.erb_frequency(np.array([cam]))[0] == pytest.approx(hz, rel=1e-3)


# ISO 226, sound pressure levels in dB at 20, 40, 60 and 80 phon: computed from the 2003 edition, then from the 2023 edition
CONTOURS = [
    (20, (89.6, 99.9, 109.5, 119.0), (89.5, 99.7, 109.4, 118.9)),
    (50, (64.0, 77.8, 90.0, 101.7), (64.3, 77.8, 89.9, 101.8)),
    (100, (48.4, 64.4, 78.7, 92.5), (48.6, 64.2, 78.5, 92.5)),
    (250, (32.0, 50.4, 67.5, 84.3), (32.1, 50.3, 67.4, 84.3)),
    (1000, (20.0, 40.0, 60.0, 80.0), (20.0, 40.0, 60.0, 80.0)),
    (1600, (21.4, 42.5, 63.2, 83.7), (21.5, 42.6, 63.2, 83.8)),
    (3150, (14.3, 35.6, 56.4, 77.1), (14.2, 35.5, 56.4, 77.2)),
    (5000, (18.6, 40.0, 60.9, 81.6), (18.7, 40.1, 61.0, 81.8)),
    (8000, (31.5, 51.8, 71.7, 91.4), (31.4, 51.6, 71.5, 91.3)),
    (12500, (33.0, 51.5, 68.6, 85.4), (33.0, 51.3, 68.6, 85.6)),
]


@pytest.mark.parametrize(("hz", "edition_2003", "edition_2023"), CONTOURS)
def test_equal_loudness(hz: float, edition_2003: tuple[float, ...], edition_2023: tuple[float, ...]) -> None:
    levels = [float(contour(np.array([hz]), phon)[0]) for phon in (20.0, 40.0, 60.0, 80.0)]
    np.testing.assert_allclose(levels, edition_2023, atol=0.06)  # the table is rounded to 0.1 dB
    np.testing.assert_allclose(levels, edition_2003, atol=0.5)


def test_ear_is_most_sensitive_near_3150_hz() -> None:
    assert int(np.argmin(contour_at_table(60.0))) == 22
