"""The strongest broad hollow that songs seldom have; strength may be given with or without its sign."""

import pytest

from features.records.balance import Bell
from features.records.base import Span
from rules.base import Finding
from rules.mixing.tone import broad_excess, broad_lack
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, found_all

LIMITS = broad_lack.Limits()


def bell(strength: float, gain_db: float = -5.0, *, agree: bool | None = False) -> Bell:
    return Bell(1995.0, gain_db, 1.0, strength, agree, "percussive", (Span(30.0, 35.0),))


def fired(region: Bell | None = None, songs: int = 8) -> Finding:
    return found(broad_lack.check(records.balance(bells=(region or bell(-4.0),)), records.target(songs=songs), LIMITS))


@pytest.mark.parametrize("strength", [-4.0, 4.0])
def test_fires_with_frequency_amount_and_a_lift(strength: float) -> None:
    finding = fired(bell(strength))
    assert (finding.numbers["frequency"], finding.numbers["lack_db"]) == ("2 kHz", 5.0)
    assert finding.excess == pytest.approx(1.0)
    assert finding.remedy == Remedy(kind="bell", part="percussive", frequency_hz=1995.0, gain_db=2.5, q=1.0)


def test_fires_on_the_whole_mix_at_a_lower_limit_when_every_part_has_it() -> None:
    remedy = fired(bell(2.7, agree=True)).remedy
    assert remedy is not None
    assert remedy.part == "mix"


def test_fires_later_and_weighs_less_than_a_rise_of_the_same_strength() -> None:
    rise = found_all(broad_excess.check(records.balance(bells=(bell(3.5, +5.0),)), records.target(), broad_excess.Limits()))[0]
    assert fired(bell(3.5)).excess < rise.excess


@pytest.mark.parametrize(("strength", "songs", "confidence"), [(4.0, 8, "high"), (3.9, 8, "medium"), (4.5, 0, "medium"), (4.4, 0, "low")])
def test_fires_as_sure_as_the_references_allow(strength: float, songs: int, confidence: str) -> None:
    assert fired(bell(strength), songs=songs).confidence == confidence


@pytest.mark.parametrize("region", [bell(3.0), bell(2.5, agree=True), bell(4.0, -2.4), bell(4.0, 6.0)])
def test_quiet_at_the_limits_below_what_is_heard_and_for_a_rise(region: Bell) -> None:
    assert broad_lack.check(records.balance(bells=(region,)), records.target(), LIMITS) is None


@pytest.mark.parametrize(("off_db", "fires"), [(-2.6, True), (-2.4, False), (3.0, False)])
def test_quiet_where_the_region_itself_does_not_lie_low(off_db: float, fires: bool) -> None:
    unusual = tuple(off_db / spread for spread in records.SPREAD_DB)
    balance = records.balance(bells=(bell(4.0),), unusual=unusual)
    assert (broad_lack.check(balance, records.target(), LIMITS) is not None) is fires


def test_quiet_about_the_slope_beside_a_rise_as_strong() -> None:
    rise = Bell(1500.0, 8.0, 1.0, 4.0, False, "mix", ())  # noqa: FBT003 - as the record has it
    beside = records.balance(bells=(rise, bell(-4.0)))
    assert broad_lack.check(beside, records.target(), LIMITS) is None
    far = records.balance(bells=(Bell(200.0, 8.0, 1.0, 4.0, False, "mix", ()), bell(-4.0)))  # noqa: FBT003
    assert broad_lack.check(far, records.target(), LIMITS) is not None
