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
from advisor.planning.plan_outcome import try_remedies
from advisor.planning.trial_readings import TrialReadings, total_excess
from features.records.base import Span
from features.sound.signal import Samples, Signal
from rules.remedy import Remedy
from tests.advisor.samples import all_records, finding, rule_that

RATE_HZ = 8000


def card(excess: float) -> Card:
    one = replace(finding(excess), remedy=Remedy("gain", gain_db=-2.0))
    return Card(rule_that(one, "loud"), one)


def heard(excess: float) -> TrialReadings:
    judged = Judged((card(excess),) if excess > 0.0 else (), (), (), ())
    return TrialReadings(total_excess(judged), -12.0, -18.0, -5.0, 0.8, 1.0, judged)


class Song:
    """A song whose one remedy mends the excerpt, and leaves the whole song with ``excess_after``."""

    def __init__(self, excess_after: float) -> None:
        self.source = Signal(np.zeros((1, 40 * RATE_HZ), np.float32), RATE_HZ)
        self._excess_after = excess_after

    def placed(self, card: Card) -> Card:
        return card

    def excerpt(self, _spans: Sequence[Span]) -> Signal:
        return Signal(np.ones((1, RATE_HZ), np.float32), RATE_HZ)

    def apply(self, _remedy: Remedy, sound: Signal) -> Signal:
        return Signal(sound.samples * np.float32(0.5), RATE_HZ)

    def listen(self, sound: Signal) -> TrialReadings:
        return heard(1.0 if float(sound.samples[0, 0]) == 1.0 else 0.0)

    def judged(self, measured: Measured) -> TrialReadings:
        return heard(self._excess_after if measured.failures else 1.0)

    def after(self, _remedies: Sequence[Remedy]) -> Signal:
        return self.source

    def complete(self, again: Measured, _remedies: Sequence[Remedy]) -> Measured:
        return replace(again, failures=(*again.failures, *MARK))

    def states(self, _remedies: Sequence[Remedy], _start: int, _count: int) -> Iterator[Samples]:
        yield from ()


MARK = (Failure("none", "the song after the plan"),)


@pytest.mark.parametrize(("excess_after", "steps"), [(0.0, 1), (0.9, 1), (1.0, 1), (1.1, 0)])
def test_a_plan_that_harms_the_whole_song_is_withdrawn(excess_after: float, steps: int) -> None:
    measured = Measured(all_records(), ())
    judged = Judged((card(1.0),), (), (), ())
    tried = try_remedies(Song(excess_after), measured, judged, yardstick_of(Settings()), Quiet())
    assert tried is not None
    assert len(tried.plan.steps) == steps
    assert (tried.whole_after is None) == (steps == 0)
    assert tried.plan.trial_of(card(1.0)) is not None, "what was tried is kept"
