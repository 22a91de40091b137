"""Noise between the sounds, against the song."""

import pytest

from features.records.base import Absence
from rules.base import Finding
from rules.delivery import noise_floor
from tests import records
from tests.rule_cases import found, reason

LIMITS = noise_floor.Limits()


def fired(noise_dbfs: float = -46.0) -> Finding:
    return found(noise_floor.check(records.health(noise_floor_dbfs=noise_dbfs), records.level(integrated_lufs=-18.0), LIMITS))


@pytest.mark.parametrize(("noise_dbfs", "below_db", "excess"), [(-46.0, 28.0, 2.0), (-55.0, 37.0, 0.5)])
def test_fires_with_level_and_distance(noise_dbfs: float, below_db: float, excess: float) -> None:
    finding = fired(noise_dbfs)
    assert finding.numbers == {"noise_dbfs": noise_dbfs, "below_db": below_db}
    assert finding.excess == pytest.approx(excess)
    assert (finding.confidence, finding.remedy) == ("low", None)


def test_quiet_at_the_limit_and_about_the_same_noise_under_a_louder_song() -> None:
    noisy = records.health(noise_floor_dbfs=-50.0)
    assert noise_floor.check(noisy, records.level(integrated_lufs=-10.0), LIMITS) is None
    assert found(noise_floor.check(noisy, records.level(integrated_lufs=-18.0), LIMITS)).numbers["below_db"] == 32.0


def test_not_applicable_to_a_song_without_pauses() -> None:
    endless = records.health(noise_floor_dbfs=None, absent=(Absence("noise_floor_dbfs", "no steady pause between sounds"),))
    assert reason(noise_floor.check(endless, records.level(), LIMITS)) == "no steady pause between sounds"
    silent = records.level(integrated_lufs=None, absent=(Absence("integrated_lufs", "the song is silent"),))
    assert reason(noise_floor.check(records.health(), silent, LIMITS)) == "the song is silent"
