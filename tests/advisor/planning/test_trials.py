"""Trials and plan on a made-up sound whose rules read one number each: amounts, side effects, order, five steps at most."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from advisor.judging.judge import Card, Judged
from advisor.planning.plan import MOST_STEPS, make_plan, priority
from advisor.planning.trial_readings import TrialReadings, total_excess
from advisor.planning.trials import Trial, candidates, smallest_that_does, try_card
from advisor.remedies.discovery import kind_of
from features.sound.signal import Signal
from rules.base import Confidence, Finding
from rules.remedy import Kind, Remedy
from tests.advisor.samples import finding, rule_that

# the "sound" holds one level per fault; a remedy lowers the level of the fault its part names, and may raise another
FAULTS = ("a", "b", "c", "d", "e", "f", "g")


def sound(**levels: float) -> Signal:
    return Signal(np.array([[levels.get(name, 0.0) for name in FAULTS]], dtype=np.float32), 100)


def card(name: str, gain_db: float = -2.0, confidence: Confidence = "high", kind: Kind = "bell", excess: float = 1.0) -> Card:
    one = replace(finding(excess, confidence), remedy=Remedy(kind, name, gain_db=gain_db))
    return Card(rule_that(one, name), one)


def apply(remedy: Remedy, signal: Signal, harm: Mapping[str, str] | None = None) -> Signal:
    samples = signal.samples.copy()
    samples[0, FAULTS.index(remedy.part)] += remedy.gain_db or 0.0
    if harm and remedy.part in harm:
        samples[0, FAULTS.index(harm[remedy.part])] -= (remedy.gain_db or 0.0) * 2.0
    return Signal(samples, signal.rate_hz)


def listen(signal: Signal) -> TrialReadings:
    """One tolerance is 1 unit; both too much and too little are past the limit."""
    cards = []
    for name, level in zip(FAULTS, signal.samples[0], strict=True):
        excess = min(max(abs(float(level)) - 0.5, 0.0), 4.0)
        if excess > 0:
            one = finding(excess)
            cards.append(Card(rule_that(one, name), one))
    judged = Judged(tuple(cards), (), (), ())
    return TrialReadings(total_excess(judged), -12.0, -18.0, -5.0, 0.8, 1.0, judged)


def test_the_smallest_amount_that_gets_most_of_the_benefit_is_taken() -> None:
    trial = try_card(card("a", -4.0), sound(a=2.0), listen(sound(a=2.0)), apply, listen)
    assert trial is not None
    assert trial.remedy.gain_db == -2.0  # -4 overshoots to -2; -2 reaches 0
    assert trial.benefit == pytest.approx(1.5)


def test_more_is_taken_where_more_helps() -> None:
    trial = try_card(card("a", -2.0), sound(a=4.0), listen(sound(a=4.0)), apply, listen)
    assert trial is not None
    assert trial.remedy.gain_db == pytest.approx(-3.2)


def test_side_effects_count_against_a_remedy() -> None:
    trial = try_card(card("a"), sound(a=2.0), listen(sound(a=2.0)), lambda r, s: apply(r, s, {"a": "b"}), listen)
    assert trial is not None
    assert not trial.helps


def test_an_amount_that_was_read_is_taken_as_it_is_unless_it_does_harm() -> None:
    def exact(gain_db: float) -> Card:
        one = card("a", gain_db)
        return replace(one, finding=replace(one.finding, exact=True))

    taken = try_card(exact(-4.0), sound(a=4.0), listen(sound(a=4.0)), apply, listen)
    halved = try_card(exact(-8.0), sound(a=4.0), listen(sound(a=4.0)), apply, listen)
    assert taken is not None
    assert halved is not None
    assert (taken.remedy.gain_db, halved.remedy.gain_db) == (-4.0, -4.0)


def test_the_easiest_of_several_remedies_that_do_alike_is_taken() -> None:
    def with_others(first: Remedy, *others: Remedy) -> Card:
        one = card("a")
        return replace(one, finding=replace(one.finding, remedy=first, others=others))

    bell, fader, weak = Remedy("bell", "a", gain_db=-2.0), Remedy("gain", "a", gain_db=-1.9), Remedy("gain", "a", gain_db=-0.2)
    easier = try_card(with_others(bell, fader), sound(a=2.0), listen(sound(a=2.0)), apply, listen)
    better = try_card(with_others(weak, bell), sound(a=2.0), listen(sound(a=2.0)), apply, listen)
    assert easier is not None
    assert better is not None
    assert (easier.remedy.kind, better.remedy.kind) == ("gain", "bell")


def test_a_small_drop_helps_where_the_finding_is_gone() -> None:
    mended = Trial(card("a", excess=1.0), Remedy("bell", "a"), listen(sound(a=0.6)), listen(sound()))
    assert mended.benefit == pytest.approx(0.1)
    assert mended.helps
    slight = card("a", excess=0.1)
    assert not replace(mended, card=slight).helps, "the whole song shows it no more clearly"
    assert not replace(mended, after=listen(sound(a=0.55))).helps, "it is still there"


def test_nothing_is_tried_without_a_remedy() -> None:
    one = finding()
    assert try_card(Card(rule_that(one), one), sound(), listen(sound()), apply, listen) is None


def test_amounts_are_scaled_by_kind() -> None:
    assert _scaled(Remedy("bell", gain_db=-2.0), 0.5).gain_db == -1.0
    assert _scaled(Remedy("gain", "pad", gain_db=4.0), 1.6).gain_db == 6.0
    assert _scaled(Remedy("gain", "pad", gain_db=-8.0), 1.6).gain_db == -8.0
    assert _scaled(Remedy("gain", "percussive", gain_db=6.0), 1.6).gain_db == 9.6
    assert _scaled(Remedy("peak_limiter", ceiling_dbfs=-6.0), 2.0).ceiling_dbfs == -9.0
    assert _scaled(Remedy("compressor", threshold_dbfs=-20.0), 0.5).threshold_dbfs == -18.5
    assert candidates(Remedy("polarity", "left")) == [Remedy("polarity", "left")]


def test_plan_orders_by_benefit_sureness_and_effort() -> None:
    cards = [card("a", kind="compressor"), card("b", kind="gain"), card("c", confidence="low", kind="gain")]
    mix = sound(a=2.0, b=2.0, c=2.0)
    plan = make_plan(cards, mix, apply, listen, lambda _: None)
    # the compressor has no threshold here, so its gain is not scaled: all three remove the same excess
    assert [step.remedy.part for step in plan.steps] == ["b", "c", "a"]


def test_one_cause_does_not_become_two_tasks() -> None:
    def both(remedy: Remedy, signal: Signal) -> Signal:
        samples = signal.samples.copy()
        samples[0, :2] += remedy.gain_db or 0.0
        return Signal(samples, signal.rate_hz)

    plan = make_plan([card("a"), card("b")], sound(a=2.0, b=2.0), both, listen, lambda _: None)
    assert len(plan.steps) == 1


def test_a_plan_has_at_most_five_steps_a_stage() -> None:
    mix = sound(**dict.fromkeys(FAULTS, 2.0))
    plan = make_plan([card(name) for name in FAULTS], mix, apply, listen, lambda _: None)
    assert len(plan.steps) == MOST_STEPS


def test_each_step_is_measured_with_the_earlier_ones_in_place() -> None:
    plan = make_plan([card("a"), card("b")], sound(a=2.0, b=2.5), apply, listen, lambda _: None)
    assert plan.steps[1].trial.before.excess == pytest.approx(plan.steps[0].trial.after.excess)


def test_the_same_sound_gives_the_same_plan() -> None:
    cards = [card(name) for name in FAULTS]
    mix = sound(**{name: 1.0 + 0.2 * place for place, name in enumerate(FAULTS)})
    first, second = (make_plan(cards, mix, apply, listen, lambda _: None) for _ in range(2))
    assert first.remedies == second.remedies


def test_what_does_not_help_stays_out_of_the_plan_but_its_trial_is_kept() -> None:
    one = card("a", +2.0)
    plan = make_plan([one], sound(a=2.0), apply, listen, lambda _: None)
    assert plan.steps == []
    trial = plan.trial_of(one)
    assert trial is not None
    assert not trial.helps


def test_what_did_not_help_is_tried_again_once_other_moves_are_in_place() -> None:
    """Louder drums make stray hits louder too; once these are caught, they do no harm."""

    def drums(remedy: Remedy, signal: Signal) -> Signal:
        done = apply(remedy, signal)
        if remedy.part == "b" and signal.samples[0, 0] > 1.0:
            done.samples[0, 0] += 3.0
        return done

    tried: list[str] = []
    plan = make_plan([card("b"), card("a", -1.5, excess=0.5), card("c", 2.0)], sound(a=1.5, b=2.0, c=2.0), drums, listen, tried.append)
    assert [step.remedy.part for step in plan.steps] == ["a", "b"]
    first = plan.trial_of(card("b"))
    assert first is not None
    assert not first.helps
    assert tried.count(tried[0]) >= 2
    assert len(tried) <= 7, "what never helps is not tried without end"


def test_the_gentlest_of_equals_wins() -> None:
    before, after = listen(sound(a=2.0)), listen(sound())
    tried = [Trial(card("a"), Remedy("bell", gain_db=gain), before, after) for gain in (-4.0, -2.0, -3.0)]
    assert smallest_that_does(tried).remedy.gain_db == -2.0
    assert priority(tried[0]) == pytest.approx(tried[0].benefit / 2.0)


def test_total_excess_counts_how_sure_a_finding_is() -> None:
    def judged(confidence: Confidence) -> Judged:
        one: Finding = finding(2.0, confidence)
        return Judged((Card(rule_that(one), one),), (), (), ())

    assert (total_excess(judged("high")), total_excess(judged("medium")), total_excess(judged("low"))) == pytest.approx((2.0, 1.4, 0.8))


def _scaled(remedy: Remedy, factor: float) -> Remedy:
    return kind_of(remedy).amount.scaled(remedy, factor)
