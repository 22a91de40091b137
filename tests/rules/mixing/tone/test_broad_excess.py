"""The strongest broad rises that songs seldom have, and the cut that brings each inside the tolerance."""

import pytest

from features.records.balance import Bell
from features.records.base import Span
from rules.base import Finding
from rules.mixing.tone import broad_excess
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = broad_excess.Limits()
HIGH = (6.0,) * len(records.BANDS_HZ)


def bell(
    strength: float, gain_db: float = 6.0, frequency_hz: float = 251.0, part: str = "sustained", *, agree: bool | None = False
) -> Bell:
    return Bell(frequency_hz, gain_db, 1.0, strength, agree, part, (Span(30.0, 35.0),))


def fired(*bells: Bell, songs: int = 8) -> Finding:
    balance = records.balance(bells=bells or (bell(3.0),))
    return found_all(broad_excess.check(balance, records.target(songs=songs), LIMITS))[0]


def test_fires_with_frequency_amount_and_the_part_that_has_it() -> None:
    finding = fired()
    assert (finding.numbers["frequency"], finding.numbers["rise_db"]) == ("250 Hz", 6.0)
    assert finding.excess == pytest.approx(1.0)
    assert finding.remedy == Remedy(kind="bell", part="sustained", frequency_hz=251.0, gain_db=-3.0, q=1.0)
    assert finding.title == "Boomy low mids (250 Hz)"
    assert finding.band_hz == pytest.approx((155.1, 406.1), abs=0.1)


def test_fires_on_the_whole_mix_at_a_lower_limit_when_every_part_has_it() -> None:
    finding = fired(bell(2.2, agree=True))
    assert finding.remedy is not None
    assert finding.remedy.part == "mix"


def test_fires_on_the_two_that_lie_furthest_past_their_limits() -> None:
    rises = (bell(2.6, frequency_hz=3000.0), bell(2.5, frequency_hz=100.0, agree=True), bell(2.55, frequency_hz=700.0))
    findings = found_all(broad_excess.check(records.balance(bells=rises), records.target(), LIMITS))
    assert [finding.numbers["frequency"] for finding in findings] == ["100 Hz", "3 kHz"]


@pytest.mark.parametrize(("above_db", "cut_db"), [(0.0, 3.0), (5.0, 4.41), (30.0, 7.5)])
def test_fires_with_a_cut_that_reaches_the_tolerance(above_db: float, cut_db: float) -> None:
    """The spread is 3.5 dB at 250 Hz, half of it is aimed at; a bell of Q 1 there lowers the mean over 200 Hz-5 kHz by 0.263 per dB."""
    balance = records.balance(bells=(bell(3.0),), deviation_db=(above_db,) * len(records.BANDS_HZ))
    finding = found_all(broad_excess.check(balance, records.target(), LIMITS))[0]
    assert finding.exact
    assert finding.remedy is not None
    assert finding.remedy.gain_db == pytest.approx(-cut_db, abs=0.01)


@pytest.mark.parametrize(
    ("strength", "songs", "confidence"),
    [(3.5, 8, "high"), (3.4, 8, "low"), (4.0, 4, "medium"), (3.4, 4, "low"), (3.4, 0, "medium"), (3.3, 0, "low")],
)
def test_fires_as_sure_as_the_references_allow(strength: float, songs: int, confidence: str) -> None:
    assert fired(bell(strength), songs=songs).confidence == confidence


@pytest.mark.parametrize(("off_db", "fires"), [(1.6, True), (1.4, False), (-3.0, False)])
def test_quiet_where_the_region_itself_does_not_stand_out(off_db: float, fires: bool) -> None:
    """At the edge of a cliff a rise explains what falls away beside it."""
    unusual = tuple(off_db / spread for spread in records.SPREAD_DB)
    balance = records.balance(bells=(bell(4.0),), unusual=unusual)
    assert (broad_excess.check(balance, records.target(), LIMITS) is not None) is fires


@pytest.mark.parametrize("region", [bell(2.5), bell(2.0, agree=True), bell(2.2, agree=None), bell(4.0, 1.4), bell(4.0, -6.0)])
def test_quiet_at_the_limits_below_what_is_heard_and_for_a_hollow(region: Bell) -> None:
    assert broad_excess.check(records.balance(bells=(region,)), records.target(), LIMITS) is None


def test_fires_as_a_hint_where_every_part_has_it_but_songs_do_too() -> None:
    assert fired(bell(2.4, agree=True), songs=0).confidence == "low"


@pytest.mark.parametrize(
    ("lean", "frequency_hz", "fires"),
    [(-3.0, 410.0, False), (-3.0, 3000.0, True), (3.0, 5000.0, False), (3.0, 410.0, True), (-1.0, 410.0, True)],
)
def test_fires_beside_a_leaning_slope_but_not_on_its_shoulder(lean: float, frequency_hz: float, fires: bool) -> None:
    spread = records.target().tilt_spread_db_per_octave
    balance = records.balance(bells=(bell(4.0, frequency_hz=frequency_hz),), tilt_deviation_db_per_octave=lean * spread, deviation_db=HIGH)
    assert (broad_excess.check(balance, records.target(), LIMITS) is not None) is fires


@pytest.mark.parametrize(("sub_db", "frequency_hz", "fires"), [(-10.0, 155.0, False), (-10.0, 251.0, True), (-5.0, 155.0, True)])
def test_fires_above_missing_lows_but_not_on_their_edge(sub_db: float, frequency_hz: float, fires: bool) -> None:
    deviation_db = tuple(sub_db if hz < 60.0 else 0.0 for hz in records.BANDS_HZ)
    balance = records.balance(bells=(bell(4.0, frequency_hz=frequency_hz),), deviation_db=deviation_db)
    assert (broad_excess.check(balance, records.target(), LIMITS) is not None) is fires


def test_fires_on_a_rise_that_alone_makes_the_slope_lean() -> None:
    """12 dB at 300 Hz, Q 1, lower the slope of 100 Hz-10 kHz by about 1.2 dB per octave."""
    spread = records.target().tilt_spread_db_per_octave
    balance = records.balance(bells=(bell(4.0, 14.0, frequency_hz=300.0),), tilt_deviation_db_per_octave=-2.2 * spread, deviation_db=HIGH)
    assert broad_excess.check(balance, records.target(), LIMITS) is not None


@pytest.mark.parametrize("region", [bell(3.0), bell(2.3, agree=True)])
def test_quiet_without_references_up_to_limits_of_their_own(region: Bell) -> None:
    assert broad_excess.check(records.balance(bells=(region,)), records.target(songs=0), LIMITS) is None


@pytest.mark.parametrize(("above_db", "fires"), [(1.3, False), (1.6, True)])
def test_quiet_at_a_cliff_that_makes_the_slope_steep(above_db: float, fires: bool) -> None:
    spread = records.target().tilt_spread_db_per_octave
    deviation_db = tuple(above_db if hz < 4500.0 else -40.0 for hz in records.BANDS_HZ)
    edge = bell(4.0, frequency_hz=2500.0)
    balance = records.balance(bells=(edge,), deviation_db=deviation_db, tilt_deviation_db_per_octave=-4.0 * spread)
    assert (broad_excess.check(balance, records.target(), LIMITS) is not None) is fires
