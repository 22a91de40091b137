"""What a step promises for the whole song: the excerpt's gains, ending where the whole song was measured."""

from dataclasses import replace
from itertools import pairwise

import pytest

from advisor.judging.judge import Card, Judged
from advisor.planning.plan import Plan, Step
from advisor.planning.plan_outcome import PlanOutcome
from advisor.planning.plan_section import along_the_song, band_edges, gone_with_step, plan_steps
from advisor.planning.trial_readings import TrialReadings
from advisor.planning.trials import Trial
from features.records.base import Span
from rules.remedy import Remedy
from tests.advisor.samples import finding, rule_that

ONE = finding(1.0, "high")
CARD = Card(rule_that(ONE, "a"), ONE)
EDGES_HZ = (17.8, 44.7, 89.1)


def readings(clean_lufs: float | None) -> TrialReadings:
    return TrialReadings(1.0, clean_lufs, -18.0, -5.0, 0.8, 1.0, Judged((), (), (), ()), EDGES_HZ, (-30.123, -25.0))


def tried(excerpt: list[float | None], whole: tuple[float | None, float | None]) -> PlanOutcome:
    trials = [Trial(CARD, Remedy("gain", gain_db=-1.0), readings(old), readings(new)) for old, new in pairwise(excerpt)]
    after = None if whole[1] is None else readings(whole[1])
    return PlanOutcome((Span(0.0, 12.0),), Plan(readings(excerpt[0]), [Step(trial) for trial in trials]), readings(whole[0]), after)


def test_the_last_step_is_what_was_measured_on_the_whole_song() -> None:
    assert along_the_song(tried([-12.0, -11.5], (-13.0, -12.1))) == pytest.approx([-12.1])
    assert along_the_song(tried([-12.0, -11.5, -11.0, -10.0], (-13.0, -11.6)))[-1] == pytest.approx(-11.6)


def test_where_excerpt_and_song_agree_the_steps_are_the_excerpts() -> None:
    assert along_the_song(tried([-12.0, -11.5, -11.6, -10.0], (-13.0, -11.0))) == pytest.approx([-12.5, -12.6, -11.0])


def test_what_the_excerpt_misses_falls_on_the_steps_that_change_most() -> None:
    """The excerpt gains 1.0 and then nothing, the song 0.4 in all: the first step alone can be off."""
    assert along_the_song(tried([-12.0, -11.0, -11.0], (-13.0, -12.6))) == pytest.approx([-12.6, -12.6])
    assert along_the_song(tried([-12.0, -11.0, -11.5], (-13.0, -12.2))) == pytest.approx([-12.0 + 0.2, -12.5 + 0.3])


def test_steps_that_gain_nothing_on_the_excerpt_share_what_the_song_gains() -> None:
    assert along_the_song(tried([-12.0, -12.0, -12.0], (-13.0, -12.8))) == pytest.approx([-12.9, -12.8])


@pytest.mark.parametrize("missing", [([None, -11.0], (-13.0, -12.0)), ([-12.0, None], (-13.0, -12.0)), ([-12.0, -11.0], (None, None))])
def test_a_loudness_that_is_missing_promises_nothing(missing: tuple[list[float | None], tuple[float | None, float | None]]) -> None:
    assert along_the_song(tried(*missing)) == [None]
    assert plan_steps(tried(*missing))[0].outlook_after_lufs is None


def test_without_a_run_over_the_song_the_excerpts_gains_stand() -> None:
    assert along_the_song(tried([-12.0, -11.0], (-13.0, None))) == pytest.approx([-12.0])


def test_steps_hold_octave_levels_on_shared_edges() -> None:
    some = tried([-12.0, -11.0], (-13.0, -12.0))
    assert plan_steps(some)[0].after.bands_db == (-30.12, -25.0)
    assert band_edges(some) == EDGES_HZ
    assert band_edges(replace(some, whole_before=replace(some.whole_before, band_edges_hz=()))) == ()


OTHER = Card(rule_that(ONE, "b"), ONE)


def with_cards(*cards: Card) -> TrialReadings:
    return replace(readings(-12.0), judged=Judged(cards, (), (), ()))


@pytest.mark.parametrize(
    ("alone", "both", "whole", "step"),
    [
        ((CARD, OTHER), (), (), 2),
        ((OTHER,), (), (), 2),
        ((), (), (), 1),
        ((), (OTHER,), (OTHER,), None),  # it came back
        ((), (), (OTHER,), None),  # gone from the excerpt only
        ((CARD, OTHER), (OTHER,), (), None),  # no step took it away
    ],
)
def test_a_finding_goes_with_the_step_that_took_it_away(
    alone: tuple[Card, ...], both: tuple[Card, ...], whole: tuple[Card, ...], step: int | None
) -> None:
    before = with_cards(CARD, OTHER)
    first = Trial(CARD, Remedy("gain", gain_db=-1.0), before, with_cards(*alone))
    second = Trial(CARD, Remedy("gain", gain_db=-1.0), with_cards(*alone), with_cards(*both))
    done = PlanOutcome((Span(0.0, 12.0),), Plan(before, [Step(first), Step(second)]), before, with_cards(*whole))
    assert gone_with_step(OTHER, done) == step
    assert gone_with_step(CARD, done) is None  # it has a step of its own
