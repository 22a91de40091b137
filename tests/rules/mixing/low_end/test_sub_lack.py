"""The bands from 30 to 60 Hz against the target; their spread between songs is 7.2 dB on average in these records."""

import pytest

from features.records.balance import Balance, Shelf
from features.records.base import Absence
from rules.base import Finding, Outcome
from rules.mixing.low_end import sub_lack
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = sub_lack.Limits()
SPREAD_DB = (8.0 + 7.0 + 6.5) / 3.0


def judge(gain_db: float, songs: int = 8, spread_db: float = 1.0) -> Outcome:
    balance = records.balance(deviation_db=tuple(gain_db if hz < 60.0 else 0.0 for hz in records.BANDS_HZ))
    target = records.target(songs=songs, spread_db=tuple(band_spread_db * spread_db for band_spread_db in records.SPREAD_DB))
    return sub_lack.check(balance, target, LIMITS)


def fired() -> Finding:
    return found(judge(-20.0))


def test_fires_with_amount_and_a_low_shelf_up() -> None:
    finding = fired()
    assert finding.numbers["below_db"] == pytest.approx(20.0)
    assert finding.excess == pytest.approx(20.0 / SPREAD_DB - 2.0)
    assert finding.remedy == Remedy(kind="low_shelf", frequency_hz=60.0, gain_db=4.0, q=0.7)
    assert finding.cause == "lack"


@pytest.mark.parametrize(
    ("gain_db", "songs", "confidence"), [(-22.0, 8, "high"), (-20.0, 8, "medium"), (-22.0, 3, "medium"), (-25.0, 0, "low")]
)
def test_fires_as_sure_as_the_references_allow(gain_db: float, songs: int, confidence: str) -> None:
    assert found(judge(gain_db, songs)).confidence == confidence


@pytest.mark.parametrize(("gain_db", "spread_db"), [(-1.99 * SPREAD_DB, 1.0), (-3.9, 0.1), (20.0, 1.0)])
def test_quiet_below_the_limit_below_what_is_heard_and_for_an_excess(gain_db: float, spread_db: float) -> None:
    assert judge(gain_db, spread_db=spread_db) is None


@pytest.mark.parametrize(
    ("kind", "strength", "gain_db", "confidence"),
    [
        ("high_pass", -2.6, -8.0, "low"),
        ("low_shelf", -4.6, -8.0, "medium"),
        ("high_pass", -2.5, -8.0, None),
        ("high_pass", -5.0, -3.9, None),
        ("low_shelf", 5.0, -8.0, None),
        ("high_shelf", -5.0, -8.0, None),
    ],
)
def test_fires_without_references_on_lows_that_look_cut(kind: str, strength: float, gain_db: float, confidence: str | None) -> None:
    deviation_db = tuple(gain_db if hz < 60.0 else 0.0 for hz in records.BANDS_HZ)
    balance = records.balance(deviation_db=deviation_db, shelves=(Shelf(kind, 60.0, gain_db, strength),))
    outcome = sub_lack.check(balance, records.target(songs=0), LIMITS)
    assert (None if outcome is None else found(outcome).confidence) == confidence


@pytest.mark.parametrize(("strength", "confidence"), [(-2.6, "low"), (-4.6, "medium"), (-2.5, None)])
def test_fires_with_references_on_lows_that_look_cut_though_the_level_alone_would_pass(strength: float, confidence: str | None) -> None:
    deviation_db = tuple(-8.0 if hz < 60.0 else 0.0 for hz in records.BANDS_HZ)
    balance = records.balance(deviation_db=deviation_db, shelves=(Shelf("high_pass", 60.0, -8.0, strength),))
    outcome = sub_lack.check(balance, records.target(songs=8), LIMITS)
    assert (None if outcome is None else found(outcome).confidence) == confidence


def test_not_applicable_to_silence() -> None:
    empty = Balance((), (), (), None, (), absent=(Absence("deviation_db", "the file is silent"),))
    assert reason(sub_lack.check(empty, records.target(), LIMITS)) == "the file is silent"
