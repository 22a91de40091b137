"""From a judged song to a plan: what the excerpt promises must hold over the whole song."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pytest

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import Card, Judged
from advisor.measuring.measured import Failure, Measured
from advisor.outcomes.outcomes import outcomes_of
from advisor.planning.paying import least_worth, room_kept
from advisor.planning.plan_outcome import PlanOutcome, try_remedies
from advisor.planning.trial_readings import TrialReadings
from features.records.base import Span
from features.sound.signal import Samples, Signal
from features.tone.target import general_target
from rules.remedy import Remedy
from tests.advisor.samples import all_records, finding, rule_that

RATE_HZ = 8000
Sound = tuple[Remedy, ...]  # a made-up sound is the moves made on it
Effects = dict[str, tuple[float, float]]  # of a move: nats of tone and LU of room gained


def card(part: str) -> Card:
    with_remedy = replace(finding(1.0), remedy=Remedy("gain", part, gain_db=-2.0), stem=part, exact=True)
    return Card(rule_that(with_remedy, "loud"), with_remedy)


def readings(tone_nats: float, room_lu: float) -> TrialReadings:
    outcomes = replace(outcomes_of({}, general_target()), tone_nats=tone_nats, room_lu=room_lu)
    shown = Judged((card("a"), card("b")), (), (), ())
    return TrialReadings(1.0, -12.0, -18.0, -5.0, 0.8, 1.0, shown, outcomes=outcomes)


class Song:
    """A song whose moves do one thing to its excerpt and perhaps another to the whole of it."""

    def __init__(self, excerpt: Effects, whole: Effects, room_lu: float) -> None:
        self.source = Signal(np.zeros((1, 40 * RATE_HZ), np.float32), RATE_HZ)
        self._excerpt, self._whole, self._room_lu = excerpt, whole, room_lu
        self._done: Sound = ()

    def placed(self, card: Card) -> Card:
        return card

    def excerpt(self, _spans: Sequence[Span]) -> Sound:
        return ()

    def apply(self, remedy: Remedy, sound: Sound) -> Sound:
        return (*sound, remedy)

    def listen(self, sound: Sound) -> TrialReadings:
        return self._read(sound, self._excerpt)

    def judged(self, measured: Measured) -> TrialReadings:
        return self._read(self._done if measured.failures else (), self._whole)

    def after(self, _remedies: Sequence[Remedy]) -> Signal:
        return self.source

    def complete(self, again: Measured, remedies: Sequence[Remedy]) -> Measured:
        self._done = tuple(remedies)
        return replace(again, failures=(*again.failures, *MARK))

    def states(self, _remedies: Sequence[Remedy], _start: int, _count: int) -> Iterator[Samples]:
        yield from ()

    def _read(self, sound: Sound, effects: Effects) -> TrialReadings:
        gained = [effects[remedy.part] for remedy in sound]
        return readings(10.0 - sum(tone for tone, _ in gained), self._room_lu + sum(room for _, room in gained))


MARK = (Failure("none", "the song after the plan"),)
GOOD: Effects = {"a": (4.0, 0.0), "b": (3.0, 0.0)}


def planned(excerpt: Effects, whole: Effects, room_lu: float = 1.0) -> PlanOutcome:
    measured = Measured(all_records(), ())
    judged = Judged((card("a"), card("b")), (), (), ())
    tried = try_remedies(Song(excerpt, whole, room_lu), measured, judged, yardstick_of(Settings()), Quiet())
    assert tried is not None
    return tried


@pytest.mark.parametrize(("tone_nats", "steps"), [(2.0, 2), (0.6, 2), (0.4, 0), (-1.0, 0)])
def test_a_plan_that_gains_the_whole_song_nothing_is_withdrawn(tone_nats: float, steps: int) -> None:
    tried = planned(GOOD, {"a": (tone_nats, 0.0), "b": (tone_nats, 0.0)})
    assert len(tried.plan.steps) == steps
    assert (tried.whole_after is None) == (steps == 0)
    assert tried.plan.trial_of(card("a")) is not None, "what was tried is kept"


def test_a_step_that_costs_the_whole_song_its_loudness_is_left_out_and_the_rest_stays() -> None:
    tried = planned({"a": (4.0, -0.2), "b": (3.0, 0.0)}, {"a": (4.0, -0.9), "b": (3.0, 0.1)})
    assert [step.remedy.part for step in tried.plan.steps] == ["b"]
    assert tried.plan.steps[0].trial.before == tried.plan.before, "it was measured again without the other"


def test_a_plan_never_ends_under_a_target_that_the_mix_was_over() -> None:
    whole: Effects = {"a": (4.0, -0.15), "b": (3.0, 0.0)}
    excerpt: Effects = {"a": (4.0, -0.05), "b": (3.0, 0.0)}
    assert len(planned(excerpt, whole, room_lu=1.0).plan.steps) == 2
    assert [step.remedy.part for step in planned(excerpt, whole, room_lu=0.1).plan.steps] == ["b"]
    assert len(planned(excerpt, whole, room_lu=-0.5).plan.steps) == 2, "it was under it before"


@pytest.mark.parametrize(("room_lu", "in_plan"), [(4.0, True), (2.5, True), (2.1, False), (1.0, False)])
def test_room_far_over_the_target_may_be_spent(room_lu: float, in_plan: bool) -> None:
    assert room_kept(readings(1.0, room_lu), readings(1.0, room_lu - 0.5)) == in_plan


def test_costs_of_several_steps_add_up() -> None:
    tried = planned({"a": (4.0, -0.2), "b": (3.0, -0.2)}, GOOD)
    assert [step.remedy.part for step in tried.plan.steps] == ["a"]


def test_room_that_is_not_known_is_not_lost() -> None:
    unknown = replace(readings(1.0, 0.0), outcomes=outcomes_of({}, general_target()))
    assert room_kept(readings(1.0, 0.5), unknown)
    assert room_kept(unknown, readings(1.0, -5.0))


def test_the_step_that_costs_most_goes_first_and_of_equals_the_last() -> None:
    states = [readings(1.0, room_lu) for room_lu in (1.0, 0.9, 0.4, 0.4)]
    assert least_worth(states, room=True) == 1
    assert least_worth([readings(1.0, room_lu) for room_lu in (1.0, 0.75, 0.5)], room=True) == 1
    assert least_worth(states, room=False) == 2
