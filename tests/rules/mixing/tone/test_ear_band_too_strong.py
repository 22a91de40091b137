"""A large share of loudness in 2-5 kHz that also stands above the target."""

import pytest

from features.records.balance import Balance, Usual
from features.records.base import Absence
from rules.base import Finding
from rules.mixing.tone import ear_band_too_strong
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = ear_band_too_strong.Limits()


def shifted(gain_db: float) -> Balance:
    return records.balance(deviation_db=tuple(gain_db if 1900.0 < hz < 5100.0 else 0.0 for hz in records.BANDS_HZ))


def fired(songs: int = 8, above_db: float = 4.0) -> Finding:
    return found(ear_band_too_strong.check(records.ear(share_2k_5k=0.39), shifted(above_db), records.target(songs=songs), LIMITS))


def test_fires_with_share_and_level_and_a_cut() -> None:
    finding = fired()
    assert (finding.numbers["share"], finding.numbers["above_db"]) == (0.39, 4.0)
    assert finding.excess == pytest.approx(2.0)
    # the spread is 4.0 dB there, half of it is aimed at; a bell of Q 0.9 lowers the mean over 200 Hz-5 kHz by 0.39 per dB
    assert finding.remedy is not None
    assert finding.remedy.gain_db == pytest.approx(-3.29, abs=0.01)
    assert finding.remedy == Remedy(kind="bell", frequency_hz=3200.0, gain_db=finding.remedy.gain_db, q=0.9)
    assert finding.exact


@pytest.mark.parametrize(("songs", "above_db", "confidence"), [(8, 4.0, "high"), (8, 2.0, "medium"), (0, 4.0, "medium")])
def test_fires_as_sure_as_the_references_allow(songs: int, above_db: float, confidence: str) -> None:
    assert fired(songs, above_db).confidence == confidence


@pytest.mark.parametrize(("share", "above_db"), [(0.33, 4.0), (0.40, 1.4), (0.10, -4.0)])
def test_quiet_unless_both_share_and_level_are_past_their_limits(share: float, above_db: float) -> None:
    assert ear_band_too_strong.check(records.ear(share_2k_5k=share), shifted(above_db), records.target(), LIMITS) is None


def test_not_applicable_without_a_share() -> None:
    ear = records.ear(share_2k_5k=None, absent=(Absence("share_2k_5k", "the file is silent"),))
    assert reason(ear_band_too_strong.check(ear, shifted(4.0), records.target(), LIMITS)) == "the file is silent"


@pytest.mark.parametrize(("median", "quiet"), [(0.35, True), (0.2, False)])
def test_five_references_say_what_is_a_lot_or_a_little(median: float, quiet: bool) -> None:
    target = records.target(usual=(Usual("ear_share", median, 0.03, 5),))
    outcome = ear_band_too_strong.check(records.ear(share_2k_5k=0.39), shifted(4.0), target, LIMITS)
    assert (outcome is None) is quiet
