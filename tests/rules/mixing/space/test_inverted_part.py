"""Bands of which one channel mirrors the other."""

import pytest

from features.records.base import Absence
from rules.base import Finding
from rules.mixing.space import inverted_part
from tests import records
from tests.rule_cases import found, reason

LIMITS = inverted_part.Limits()
PLACE = 17  # 1 kHz


def shares(*values: float) -> tuple[float, ...]:
    every = [0.01] * len(records.BANDS_HZ)
    every[PLACE : PLACE + len(values)] = values
    return tuple(every)


def fired(*values: float) -> Finding:
    return found(inverted_part.check(records.stereo(band_mirrored_share=shares(*(values or (0.6, 0.5)))), LIMITS))


@pytest.mark.parametrize(("values", "confidence"), [((0.6, 0.5), "medium"), ((0.2, 0.18), "low"), ((0.95,), "medium"), ((0.75,), "low")])
def test_fires_where_a_band_and_its_neighbour_or_nearly_all_of_one_is_mirrored(values: tuple[float, ...], confidence: str) -> None:
    finding = fired(*values)
    assert finding.confidence == confidence
    assert finding.numbers["share"] == pytest.approx(values[0], abs=0.11)
    assert finding.band_hz is not None
    assert finding.band_hz[0] < 1000.0 * 10**0.05 < finding.band_hz[1] * 1.3


@pytest.mark.parametrize("values", [(0.1, 0.1), (0.6,), (0.6, 0.05)])
def test_quiet_about_little_and_about_half_of_a_single_band(values: tuple[float, ...]) -> None:
    assert inverted_part.check(records.stereo(band_mirrored_share=shares(*values)), LIMITS) is None


def test_quiet_where_the_song_holds_next_to_nothing() -> None:
    energy = tuple(0.0001 if place in (PLACE, PLACE + 1) else 0.03 for place in range(len(records.BANDS_HZ)))
    stereo = records.stereo(band_mirrored_share=shares(0.9, 0.9), band_energy_share=energy)
    assert inverted_part.check(stereo, LIMITS) is None


def test_not_applicable_where_the_whole_mix_is_upside_down_and_to_mono() -> None:
    assert "inverted polarity" in reason(inverted_part.check(records.stereo(polarity_inverted=True), LIMITS))
    mono = records.stereo(correlation=None, absent=(Absence("correlation", "the file has one channel"),))
    assert reason(inverted_part.check(mono, LIMITS)) == "the file has one channel"
