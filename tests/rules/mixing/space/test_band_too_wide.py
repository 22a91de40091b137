"""A region against itself in mono: what lasts counts, in bands that carry something."""

from typing import Any

import pytest

from features.records.base import Absence
from features.records.stereo import Stereo
from rules.base import Finding
from rules.mixing.space import band_too_wide
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = band_too_wide.Limits()
MIDS = 17  # the band at 1 kHz


def stereo(share: float = 0.7, energy: float = 0.06, loss_db: float = 5.0, place: int = MIDS, **changes: Any) -> Stereo:  # noqa: ANN401
    ordinary = records.stereo()

    def put(values: tuple[float | None, ...], value: float) -> tuple[float | None, ...]:
        return (*values[:place], value, *values[place + 1 :])

    return records.stereo(
        band_negative_share=put(ordinary.band_negative_share, share),
        band_energy_share=put(ordinary.band_energy_share, energy),
        band_mono_loss_db=put(ordinary.band_mono_loss_db, loss_db),
        **changes,
    )


def fired() -> Finding:
    return found(band_too_wide.check(stereo(), LIMITS))


def test_fires_with_the_region_how_long_and_what_it_loses() -> None:
    finding = fired()
    assert finding.numbers == {"frequency": "1 kHz", "share": 0.7, "loss_db": 5.0}
    assert finding.excess == pytest.approx(0.5)  # (0.06 - 0.05) / 0.02 of the energy is less than (0.7 - 0.4) / 0.15 of the time
    assert finding.confidence == "medium"
    assert finding.where == (records.WORST[MIDS],)
    assert finding.band_hz == pytest.approx((707.1, 1414.2), abs=0.1)


def test_fires_with_less_side_in_that_region_alone() -> None:
    assert fired().remedy == Remedy(kind="bell", part="side", frequency_hz=records.BANDS_HZ[MIDS], gain_db=-2.5, q=1.4)


@pytest.mark.parametrize(("changes", "excess"), [({"energy": 0.2}, 2.0), ({"energy": 0.2, "loss_db": 3.5}, 0.5), ({"energy": 0.051}, 0.05)])
def test_fires_as_far_as_the_reading_that_is_least_past_its_limit(changes: dict[str, Any], excess: float) -> None:
    assert found(band_too_wide.check(stereo(**changes), LIMITS)).excess == pytest.approx(excess)


@pytest.mark.parametrize("changes", [{"share": 0.4}, {"energy": 0.049}, {"loss_db": 3.0}, {"place": 6}])
def test_quiet_at_each_limit_and_in_the_low_end(changes: dict[str, Any]) -> None:
    assert band_too_wide.check(stereo(**changes), LIMITS) is None


def test_not_applicable_to_mono_and_to_an_inverted_channel() -> None:
    mono = records.stereo(correlation=None, absent=(Absence("correlation", "the file has one channel"),))
    assert reason(band_too_wide.check(mono, LIMITS)) == "the file has one channel"
    assert reason(band_too_wide.check(stereo(polarity_inverted=True), LIMITS)) == "one channel has inverted polarity"
