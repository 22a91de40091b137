"""A kick under a bass."""

from dataclasses import replace
from math import sqrt

import pytest

from features.records.elements import Element, Elements
from rules.base import Finding
from rules.mixing.low_end import bass_hides_kick
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = bass_hides_kick.Limits()
PLACE_HZ = 63.1  # the third octave in which the ordinary song's kick is strongest


def hidden(*others: Element, **changes: object) -> Elements:
    return records.elements(*others, kick_and_bass=records.kick_and_bass(**{"kick_audible_share": 0.1, **changes}))


def living_at(strongest: int) -> Element:
    """Return a bass whose strongest third octave is the one of that number, the others 20 dB below it."""
    levels = tuple(-10.0 if band == strongest else -30.0 for band in range(len(records.BANDS_HZ)))
    return records.element("bass", level={"third_octave_db": levels})


def fired(song: Elements | None = None) -> Finding:
    return found(bass_hides_kick.check(song or hidden(), LIMITS))


def test_fires_with_how_much_is_heard_and_where_the_kick_lives() -> None:
    finding = fired()
    wanted = {"kick": "'kick'", "bass": "'bass'", "heard": 0.1, "hits": 320, "place": "63 Hz"}
    assert {name: finding.numbers[name] for name in wanted} == wanted
    assert (finding.stem, finding.title, finding.cause) == ("kick", "'bass' masks 'kick'", "buried")
    assert finding.excess == pytest.approx(2.0)  # (0.4 - 0.1) / 0.15
    assert finding.band_hz == pytest.approx((PLACE_HZ / sqrt(2.0), PLACE_HZ * sqrt(2.0)))


def test_fires_with_a_dip_of_the_bass_that_the_kick_triggers() -> None:
    assert fired().remedy == Remedy(
        "dynamic_bell", "bass", frequency_hz=PLACE_HZ, gain_db=-4.0, q=1.4, attack_ms=5.0, release_ms=120.0, key="kick"
    )


def test_fires_with_the_fader_and_a_cut_beside_it_unless_the_bass_lives_there() -> None:
    apart, there = fired(hidden(living_at(9))), fired(hidden(living_at(5)))
    fader = Remedy("gain", "bass", gain_db=-2.0)
    assert apart.others == (fader, Remedy("bell", "bass", frequency_hz=PLACE_HZ, gain_db=-3.0, q=1.4))
    assert there.others == (fader,)


@pytest.mark.parametrize(("essential", "kinds"), [(True, ["gain"]), (False, ["gain", "bell"])])
def test_fires_by_what_was_measured_for_the_pair_where_it_was(essential: bool, kinds: list[str]) -> None:
    kick = records.element("kick", masking={"covered_by": (records.cover("bass", band_hz=(40.0, 100.0), essential=essential),)})
    assert [remedy.kind for remedy in fired(hidden(kick)).others] == kinds


@pytest.mark.parametrize("share", [0.4, 0.8])
def test_quiet_from_the_limit_on(share: float) -> None:
    assert bass_hides_kick.check(hidden(kick_audible_share=share), LIMITS) is None


def test_quiet_about_a_kick_that_is_not_heard_at_all_since_that_is_told_elsewhere() -> None:
    assert bass_hides_kick.check(hidden(records.element("kick", masking={"audible_share": 0.05})), LIMITS) is None


def test_quiet_where_the_bass_is_too_loud_since_that_is_told_there() -> None:
    moves = tuple(records.level_move(("bass",), None, 9.0, chance) for chance in (0.4, 0.2))
    assert bass_hides_kick.check(replace(hidden(), moves=moves[:1]), LIMITS) is None
    assert fired(replace(hidden(), moves=moves[1:])).stem == "kick"


@pytest.mark.parametrize(
    ("song", "words"),
    [
        (records.elements(kick_and_bass=None), "no kick"),
        (hidden(hits=7), "only 7"),
        (hidden(kick_audible_share=None), "could not be measured"),
    ],
)
def test_not_applicable_without_both(song: Elements, words: str) -> None:
    assert words in reason(bass_hides_kick.check(song, LIMITS))


@pytest.mark.parametrize(("name", "off_db"), [("kick", -9.0), ("bass", 9.0)])
def test_quiet_where_a_fader_of_the_two_lies_off_since_that_is_told_there(name: str, off_db: float) -> None:
    song = records.elements(kick_and_bass=records.kick_and_bass(kick_audible_share=0.1))
    assert bass_hides_kick.check(song, LIMITS) is not None
    assert bass_hides_kick.check(replace(song, moves=(records.level_move((name,), None, off_db),)), LIMITS) is None
