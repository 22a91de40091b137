"""EBU Tech 3341 (2023), table 1: the cases that can be made from their description."""

import numpy as np
import pytest

from features.loudness.gating import sliding_means
from features.loudness.level import measure_level
from tests import signals
from tests.reference import standard_cases
from tests.reference.standard_cases import Case


@pytest.mark.parametrize("case", standard_cases.ebu_tech_3341(), ids=lambda case: case.name)
def test_case(case: Case) -> None:
    for expected, measured, agrees in case.readings():
        assert agrees, f"{measured:.3f} {case.unit} instead of {expected}"


@pytest.mark.parametrize("offset", range(4))
def test_burst_peak_against_the_wave_it_was_made_of(offset: int) -> None:
    """The limit is tighter than the standard's: the wave before decimation is known here."""
    samples, exact = standard_cases.burst(offset)
    measured = measure_level(standard_cases.trace(samples)).true_peak_dbtp
    assert measured == pytest.approx(20 * np.log10(exact), abs=0.06)


def test_windows_every_100_ms_would_miss_case_13() -> None:
    """Shows that the case can fail: a coarser hop reads -23.45 (check computed for a hop of 100 ms)."""
    readings = []
    for i in range(20):
        steps = [(i * 0.02, None), (0.4, -23.0), (1.0, None)]
        k_sum = standard_cases.trace(signals.tone_steps(steps, 48000)).k_sum()
        readings.append(-0.691 + 10 * np.log10(sliding_means(k_sum, 40, 10).max()))
    assert min(readings) == pytest.approx(-23.45, abs=0.02)
