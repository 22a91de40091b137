"""A small share of loudness in 2-5 kHz that also lies below the target."""

import pytest

from features.records.balance import Balance, Usual
from features.records.base import Absence
from rules.base import Finding
from rules.mixing.tone import ear_band_too_weak
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = ear_band_too_weak.Limits()


def shifted(gain_db: float) -> Balance:
    return records.balance(deviation_db=tuple(gain_db if 1900.0 < hz < 5100.0 else 0.0 for hz in records.BANDS_HZ))


def fired(songs: int = 8, below_db: float = 5.0) -> Finding:
    return found(ear_band_too_weak.check(records.ear(share_2k_5k=0.05), shifted(-below_db), records.target(songs=songs), LIMITS))


def test_fires_with_share_and_level_and_a_lift() -> None:
    finding = fired()
    assert (finding.numbers["share"], finding.numbers["below_db"]) == (0.05, 5.0)
    assert finding.excess == pytest.approx(2.0)
    assert finding.remedy == Remedy(kind="bell", frequency_hz=3200.0, gain_db=2.5, q=0.9)


@pytest.mark.parametrize(("songs", "below_db", "confidence"), [(8, 5.0, "high"), (8, 4.0, "medium"), (0, 6.0, "medium")])
def test_fires_as_sure_as_the_references_allow(songs: int, below_db: float, confidence: str) -> None:
    assert fired(songs, below_db).confidence == confidence


@pytest.mark.parametrize(("share", "gain_db"), [(0.13, -5.0), (0.05, -2.4), (0.40, 5.0)])
def test_quiet_unless_both_share_and_level_are_past_their_limits(share: float, gain_db: float) -> None:
    assert ear_band_too_weak.check(records.ear(share_2k_5k=share), shifted(gain_db), records.target(), LIMITS) is None


def test_not_applicable_without_a_share() -> None:
    ear = records.ear(share_2k_5k=None, absent=(Absence("share_2k_5k", "the file is silent"),))
    assert reason(ear_band_too_weak.check(ear, shifted(-5.0), records.target(), LIMITS)) == "the file is silent"


@pytest.mark.parametrize(("median", "quiet"), [(0.12, True), (0.25, False)])
def test_five_references_say_what_is_a_lot_or_a_little(median: float, quiet: bool) -> None:
    target = records.target(usual=(Usual("ear_share", median, 0.03, 5),))
    outcome = ear_band_too_weak.check(records.ear(share_2k_5k=0.1), shifted(-6.0), target, LIMITS)
    assert (outcome is None) is quiet
