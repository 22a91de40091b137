"""The bands from 20 to 60 Hz against the target; their spread between songs is 8.1 dB on average in these records."""

from dataclasses import replace

import pytest

from features.records.balance import Balance, Shelf
from features.records.base import Absence, Span
from rules.base import Finding, Outcome
from rules.mixing.low_end import sub_excess
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = sub_excess.Limits()
SPREAD_DB = (10.0 + 9.0 + 8.0 + 7.0 + 6.5) / 5.0


def shifted(gain_db: float) -> Balance:
    return records.balance(deviation_db=tuple(gain_db if hz < 60.0 else 0.0 for hz in records.BANDS_HZ))


def judge(gain_db: float, songs: int = 8, spread_db: float = 1.0, share_db: float = -8.0) -> Outcome:
    target = records.target(songs=songs, spread_db=tuple(band_spread_db * spread_db for band_spread_db in records.SPREAD_DB))
    return sub_excess.check(shifted(gain_db), target, records.spectrum(), records.low_end(sub_share_db=share_db), LIMITS)


def fired() -> Finding:
    return found(judge(15.0))


def test_fires_with_amount_and_share_and_a_low_shelf_down() -> None:
    finding = fired()
    assert finding.numbers["above_db"] == pytest.approx(15.0)
    assert finding.numbers["share"] == pytest.approx(0.158, abs=0.001)  # -8 dB
    assert finding.excess == pytest.approx((15.0 / SPREAD_DB - 1.5) / 0.5)
    # half a spread of 8.1 dB is aimed at, and the shelf reaches 0.85 of its gain there: (15 - 4.05) / 0.85 is more than 12 dB
    assert finding.remedy == Remedy(kind="low_shelf", frequency_hz=60.0, gain_db=-12.0, q=0.7)
    assert finding.exact
    assert (finding.cause, finding.where) == ("excess", (Span(60.0, 65.0),))


@pytest.mark.parametrize(("gain_db", "share_db", "cut_db"), [(13.0, -8.0, 10.53), (0.8 * SPREAD_DB, -3.0, 6.34)])
def test_fires_with_a_cut_by_level_or_by_share(gain_db: float, share_db: float, cut_db: float) -> None:
    """0.5 of the energy against 0.224 (0.7 of the limit): 10 log10(1 / (0.224 / 0.776)) = 5.40 dB, over 0.85."""
    remedy = found(judge(gain_db, share_db=share_db)).remedy
    assert remedy is not None
    assert remedy.gain_db == pytest.approx(-cut_db, abs=0.04)


@pytest.mark.parametrize(
    ("gain_db", "songs", "confidence"), [(22.0, 8, "high"), (17.0, 8, "medium"), (16.0, 8, "low"), (22.0, 0, "medium")]
)
def test_fires_as_sure_as_the_references_allow(gain_db: float, songs: int, confidence: str) -> None:
    assert found(judge(gain_db, songs)).confidence == confidence


@pytest.mark.parametrize(("songs", "most"), [(8, 0.32), (0, 0.45)])
def test_fires_earlier_when_it_takes_much_of_the_energy(songs: int, most: float) -> None:
    finding = found(judge(0.8 * SPREAD_DB, songs, share_db=-3.0))
    assert finding.excess == pytest.approx((10.0**-0.3 - most) / 0.1)
    assert finding.confidence == "low"
    assert judge(0.69 * SPREAD_DB, songs, share_db=-3.0) is None
    assert judge(0.8 * SPREAD_DB, songs, share_db=-5.0) is None


@pytest.mark.parametrize(("gain_db", "spread_db"), [(1.49 * SPREAD_DB, 1.0), (2.9, 0.1), (-15.0, 1.0)])
def test_quiet_below_the_limit_below_what_is_heard_and_for_a_lack(gain_db: float, spread_db: float) -> None:
    assert judge(gain_db, spread_db=spread_db) is None


@pytest.mark.parametrize(
    ("strength", "gain_db", "confidence"), [(2.1, 5.0, "low"), (3.1, 5.0, "medium"), (2.0, 5.0, None), (3.1, 2.9, None), (-3.1, 5.0, None)]
)
def test_fires_without_references_on_lows_that_a_shelf_explains(strength: float, gain_db: float, confidence: str | None) -> None:
    balance = replace(shifted(gain_db), shelves=(Shelf("low_shelf", 60.0, gain_db, strength),))
    outcome = sub_excess.check(balance, records.target(songs=0), records.spectrum(), records.low_end(sub_share_db=-12.0), LIMITS)
    assert (None if outcome is None else found(outcome).confidence) == confidence


def test_not_applicable_to_silence() -> None:
    empty = Balance((), (), (), None, (), absent=(Absence("deviation_db", "the file is silent"),))
    outcome = sub_excess.check(empty, records.target(), records.spectrum(), records.low_end(), LIMITS)
    assert reason(outcome) == "the file is silent"
