"""Kick and bass that cancel each other."""

import pytest

from features.records.base import Span
from features.records.elements import Elements
from rules.base import Finding
from rules.mixing.low_end import kick_against_bass
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = kick_against_bass.Limits()


def against(**changes: object) -> Elements:
    ordinary: dict[str, object] = {"sum_gain_db": -3.0, "flipped_gain_db": 1.8, "best_delay_ms": 4.0, "best_gain_db": 2.0}
    return records.elements(kick_and_bass=records.kick_and_bass(**{**ordinary, **changes}))


def fired(song: Elements | None = None) -> Finding:
    return found(kick_against_bass.check(song or against(), LIMITS))


def test_fires_with_the_loss_and_what_flipping_brings_back() -> None:
    finding = fired()
    wanted = {"hits": 320, "kick": "'kick'", "bass": "'bass'", "loss_db": 3.0, "won_db": 4.8, "move": "Flip the polarity of 'bass'"}
    assert {name: finding.numbers[name] for name in wanted} == pytest.approx(wanted)
    assert (finding.stem, finding.cause, finding.where) == ("bass", "polarity", (Span(60.0, 70.0),))
    assert finding.excess == pytest.approx(2.0)


def test_fires_with_polarity_first_and_the_delay_beside_it() -> None:
    assert fired().remedy == Remedy("polarity", "bass")
    assert fired().others == (Remedy("delay", "bass", delay_ms=4.0),)


def test_fires_with_the_delay_first_where_it_brings_back_clearly_more() -> None:
    late = fired(against(flipped_gain_db=1.8, best_gain_db=2.9, best_delay_ms=-7.5))
    assert late.remedy == Remedy("delay", "bass", delay_ms=-7.5)
    assert late.numbers["won_db"] == pytest.approx(5.9)
    assert late.others == (Remedy("polarity", "bass"),)


def under_a_loud_bass(kick_left_db: float | None = -6.0, helps_share: float | None = 0.98) -> Elements:
    return against(sum_gain_db=-0.4, flipped_gain_db=0.3, best_delay_ms=0.0, best_gain_db=-0.4, kick_left_db=kick_left_db,
                   kick_flipped_db=3.5, flip_helps_share=helps_share)  # fmt: skip


def test_fires_where_a_loud_bass_takes_the_kick_though_the_sum_hardly_shows_it() -> None:
    finding = fired(under_a_loud_bass())
    assert finding.remedy == Remedy("polarity", "bass")
    assert finding.numbers["won_db"] == pytest.approx(9.5)
    assert finding.numbers["kick_lost"] == ". The kick loses 6 dB"
    assert finding.excess == pytest.approx(1.5)


@pytest.mark.parametrize("song", [under_a_loud_bass(-2.9), under_a_loud_bass(helps_share=0.8), under_a_loud_bass(None)])
def test_quiet_where_little_of_the_kick_is_taken_or_not_at_nearly_every_kick(song: Elements) -> None:
    assert kick_against_bass.check(song, LIMITS) is None


@pytest.mark.parametrize(("delay_ms", "words"), [(4.0, "later by 4.00 ms"), (-2.5, "earlier by 2.50 ms")])
def test_fires_with_the_delay_where_flipping_does_not_help(delay_ms: float, words: str) -> None:
    finding = fired(against(flipped_gain_db=-2.5, best_delay_ms=delay_ms))
    assert finding.remedy == Remedy("delay", "bass", delay_ms=delay_ms)
    assert words in str(finding.numbers["move"])
    assert finding.others == ()


@pytest.mark.parametrize(
    ("hits", "helps_share", "confidence"),
    [(8, None, "medium"), (16, None, "high"), (15, 1.0, "medium"), (16, 0.85, "high"), (300, 0.84, "medium")],
)
def test_fires_more_surely_on_many_kicks_that_agree(hits: int, helps_share: float | None, confidence: str) -> None:
    assert fired(against(hits=hits, flip_helps_share=helps_share)).confidence == confidence


def test_fires_with_the_delay_alone_where_too_few_kicks_want_the_other_polarity() -> None:
    assert fired(against(flip_helps_share=0.64)).remedy == Remedy("delay", "bass", delay_ms=4.0)
    assert fired(against(flip_helps_share=0.65)).remedy == Remedy("polarity", "bass")


@pytest.mark.parametrize(
    "changes",
    [
        {"sum_gain_db": -1.0},
        {"flipped_gain_db": -2.5, "best_gain_db": -2.2},
        {"flipped_gain_db": -2.5, "best_delay_ms": 0.0, "best_gain_db": 2.0},
    ],
)
def test_quiet_at_the_limit_and_where_nothing_mends_it(changes: dict[str, object]) -> None:
    assert kick_against_bass.check(against(**changes), LIMITS) is None


def test_not_applicable_without_both_or_with_few_kicks() -> None:
    assert "no kick" in reason(kick_against_bass.check(records.elements(kick_and_bass=None), LIMITS))
    assert "only 7" in reason(kick_against_bass.check(against(hits=7), LIMITS))
