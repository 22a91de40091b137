"""Trials and plan on a made-up sound of one number a fault: amounts, side effects, order, and outcomes as the only judge."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from advisor.judging.judge import Card, Judged
from advisor.outcomes.outcomes import ElementStands, Stand, outcomes_of
from advisor.planning.order import makeable, turn, within_budget
from advisor.planning.plan import MOST_STEPS, make_plan, priority, replayed
from advisor.planning.trial_readings import TrialReadings, total_excess
from advisor.planning.trials import Trial, candidates, smallest_that_does, try_card
from advisor.remedies.discovery import kind_of
from features.sound.signal import Signal
from features.tone.target import general_target
from rules.base import Confidence, Finding
from rules.remedy import Kind, Remedy
from tests.advisor.samples import finding, rule_that

# the "sound" holds one level per fault; a remedy lowers the level of the fault its part names, and may raise another
NOTHING = Judged((), (), (), ())
FAULTS = ("a", "b", "c", "d", "e", "f", "g")


def sound(**levels: float) -> Signal:
    return Signal(np.array([[levels.get(name, 0.0) for name in FAULTS]], dtype=np.float32), 100)


def card(name: str, gain_db: float = -2.0, confidence: Confidence = "high", kind: Kind = "bell", excess: float = 1.0) -> Card:
    with_remedy = replace(finding(excess, confidence), remedy=Remedy(kind, name, gain_db=gain_db))
    return Card(rule_that(with_remedy, name), with_remedy)


def apply(remedy: Remedy, signal: Signal, harm: Mapping[str, str] | None = None) -> Signal:
    samples = signal.samples.copy()
    samples[0, FAULTS.index(remedy.part)] += remedy.gain_db or 0.0
    if harm and remedy.part in harm:
        samples[0, FAULTS.index(harm[remedy.part])] -= (remedy.gain_db or 0.0) * 2.0
    return Signal(samples, signal.rate_hz)


def listen(signal: Signal) -> TrialReadings:
    """One tolerance is 1 unit, and 2 steps of tone; both too much and too little are past the limit."""
    cards = []
    for name, level in zip(FAULTS, signal.samples[0], strict=True):
        excess = min(max(abs(float(level)) - 0.5, 0.0), 4.0)
        if excess > 0:
            remaining = finding(excess)
            cards.append(Card(rule_that(remaining, name), remaining))
    judged = Judged(tuple(cards), (), (), ())
    return graded(judged, tone_nats=2.0 * total_excess(judged))


def graded(judged: Judged = NOTHING, tone_nats: float | None = None, room_lu: float | None = None) -> TrialReadings:
    outcomes = replace(outcomes_of({}, general_target()), tone_nats=tone_nats, room_lu=room_lu)
    return TrialReadings(total_excess(judged), -12.0, -18.0, -5.0, 0.8, 1.0, judged, outcomes=outcomes)


def test_the_smallest_amount_that_gets_most_of_the_benefit_is_taken() -> None:
    trial = try_card(card("a", -4.0), sound(a=2.0), listen(sound(a=2.0)), apply, listen)
    assert trial is not None
    assert trial.remedy.gain_db == -2.0  # -4 overshoots to -2; -2 reaches 0
    assert trial.benefit == pytest.approx(3.0)


def test_never_more_than_proposed_is_taken() -> None:
    trial = try_card(card("a", -2.0), sound(a=4.0), listen(sound(a=4.0)), apply, listen)
    assert trial is not None
    assert trial.remedy.gain_db == pytest.approx(-2.0)


def test_side_effects_count_against_a_remedy() -> None:
    trial = try_card(card("a"), sound(a=2.0), listen(sound(a=2.0)), lambda r, s: apply(r, s, {"a": "b"}), listen)
    assert trial is not None
    assert not trial.helps


def test_an_amount_that_was_read_is_taken_as_it_is_unless_it_does_harm() -> None:
    def exact(gain_db: float) -> Card:
        plain = card("a", gain_db)
        return replace(plain, finding=replace(plain.finding, exact=True))

    taken = try_card(exact(-4.0), sound(a=4.0), listen(sound(a=4.0)), apply, listen)
    halved = try_card(exact(-8.0), sound(a=4.0), listen(sound(a=4.0)), apply, listen)
    assert taken is not None
    assert halved is not None
    assert (taken.remedy.gain_db, halved.remedy.gain_db) == (-4.0, -4.0)


def test_the_easiest_of_several_remedies_that_do_alike_is_taken() -> None:
    def with_others(first: Remedy, *others: Remedy) -> Card:
        plain = card("a")
        return replace(plain, finding=replace(plain.finding, remedy=first, others=others))

    bell, fader, weak = Remedy("bell", "a", gain_db=-2.0), Remedy("gain", "a", gain_db=-1.9), Remedy("gain", "a", gain_db=-0.2)
    easier = try_card(with_others(bell, fader), sound(a=2.0), listen(sound(a=2.0)), apply, listen)
    better = try_card(with_others(weak, bell), sound(a=2.0), listen(sound(a=2.0)), apply, listen)
    assert easier is not None
    assert better is not None
    assert (easier.remedy.kind, better.remedy.kind) == ("gain", "bell")


def test_what_a_listener_does_not_notice_is_not_advised() -> None:
    mended = Trial(card("a"), Remedy("bell", "a"), listen(sound(a=0.9)), listen(sound()))
    assert mended.benefit == pytest.approx(0.8)
    assert not mended.before.shows(card("b"))
    assert not mended.helps, "the finding is gone, and nobody hears it"
    assert replace(mended, before=listen(sound(a=1.1))).helps


def test_fewer_findings_do_not_grade_a_move() -> None:
    """The rules are content with the first and not with the second; outcomes say the opposite."""
    clean, worse = graded(tone_nats=4.0, room_lu=1.0), listen(sound(a=3.0, b=3.0))
    content = Trial(card("a"), Remedy("bell", "a"), worse, replace(clean, outcomes=replace(worse.outcomes, tone_nats=12.0)))
    better = Trial(card("a"), Remedy("bell", "a"), clean, replace(worse, outcomes=replace(clean.outcomes, tone_nats=1.0)))
    assert content.before.excess > content.after.excess
    assert not content.helps
    assert better.before.excess < better.after.excess
    assert better.helps


def test_a_move_that_costs_room_is_refused_whatever_it_gains() -> None:
    before = graded(tone_nats=8.0, room_lu=0.2)
    trials = [Trial(card("a"), Remedy("bell", "a"), before, graded(tone_nats=0.0, room_lu=after)) for after in (0.1, -0.05, -0.2)]
    assert [trial.helps for trial in trials] == [True, False, False], "it ends under the target, which it was over"


@pytest.mark.parametrize(("kind", "moved_lu", "helps"), [("compressor", 1.5, True), ("compressor", 3.0, False), ("gain", 3.0, True)])
def test_a_fader_in_disguise_is_refused(kind: Kind, moved_lu: float, helps: bool) -> None:
    def standing(in_mix_lu: float, tone_nats: float) -> TrialReadings:
        readings = graded(tone_nats=tone_nats)
        return replace(readings, outcomes=replace(readings.outcomes, stand=Stand(elements=(ElementStands("pad", in_mix_lu),))))

    trial = Trial(card("a"), Remedy(kind, "pad", gain_db=-2.0), standing(-6.0, 8.0), standing(-6.0 - moved_lu, 0.0))
    assert trial.helps == helps


def test_stray_peaks_are_caught_where_that_harms_nothing() -> None:
    """No outcome shows a few short peaks; what they cost shows only in the limiter."""

    def peaks(confidence: Confidence) -> Card:
        plain = card("a", confidence=confidence)
        return replace(plain, finding=replace(plain.finding, cause="peaks"))

    caught = Trial(peaks("high"), Remedy("peak_limiter", ceiling_dbfs=-6.0), listen(sound(a=0.6)), listen(sound()))
    assert caught.helps
    assert not replace(caught, card=peaks("low")).helps
    assert not replace(caught, after=listen(sound(a=0.55))).helps, "they are still there"
    assert not replace(caught, after=listen(sound(b=0.9))).helps, "something else is lost"


def test_what_was_never_meant_costs_no_distance() -> None:
    def leaning(balance_db: float) -> TrialReadings:
        readings = graded()
        stand = replace(readings.outcomes.stand, lean_db=balance_db)
        return replace(
            readings, outcomes=replace(readings.outcomes, stand=stand, playback=replace(readings.outcomes.playback, lean_db=balance_db))
        )

    pushed = card("a")
    lean = replace(pushed, finding=replace(pushed.finding, cause="lean"))
    other = Trial(pushed, Remedy("gain", "left", gain_db=-2.5), leaning(2.5), leaning(0.0))
    assert not other.helps
    assert replace(other, card=lean).helps


def test_a_lean_is_mended_though_no_outcome_gains_a_step_unless_one_loses_more() -> None:
    plain = card("a")
    lean = Trial(
        replace(plain, finding=replace(plain.finding, cause="lean")),
        Remedy("gain", "left", gain_db=-2.5),
        listen(sound(a=0.6)),
        listen(sound()),
    )
    assert not replace(lean, card=plain).helps
    assert lean.helps
    assert not replace(lean, after=listen(sound(a=0.55))).helps, "it still leans"
    assert not replace(lean, after=listen(sound(b=1.2))).helps, "something else is lost"


@pytest.mark.parametrize(
    ("kind", "confidence", "helps"), [("compressor", "low", False), ("compressor", "medium", True), ("bell", "low", True)]
)
def test_dynamics_need_more_than_a_hint(kind: Kind, confidence: Confidence, helps: bool) -> None:
    trial = Trial(card("a", confidence=confidence, kind=kind), Remedy(kind, "a"), listen(sound(a=3.0)), listen(sound()))
    assert trial.helps == helps


def test_nothing_is_tried_without_a_remedy() -> None:
    untreated = finding()
    assert try_card(Card(rule_that(untreated), untreated), sound(), listen(sound()), apply, listen) is None


def test_amounts_are_scaled_by_kind() -> None:
    assert _scaled(Remedy("bell", gain_db=-2.0), 0.5).gain_db == -1.0
    assert _scaled(Remedy("gain", "pad", gain_db=4.0), 1.6).gain_db == 6.0
    assert _scaled(Remedy("gain", "pad", gain_db=-8.0), 1.6).gain_db == -8.0
    assert _scaled(Remedy("gain", "pad", gain_db=-2.5), 0.5).gain_db == -1.0, "half decibels on a fader"
    assert _scaled(Remedy("gain", "pad", gain_db=0.3), 0.5).gain_db == 0.3, "never more than proposed"
    assert _scaled(Remedy("gain", "left", gain_db=-2.5), 0.5).gain_db == -1.2
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


def test_the_whole_mix_comes_last_and_gently() -> None:
    """What colours the whole mix waits for what an element can do, and has 3 dB in all."""

    def bell(gain_db: float, part: str = "mix") -> Remedy:
        return Remedy("bell", part, frequency_hz=300.0, gain_db=gain_db)

    def on_the_mix(name: str, gain_db: float) -> Card:
        return replace(card(name), finding=replace(card(name).finding, remedy=bell(gain_db)))

    assert [turn(remedy) for remedy in (Remedy("gain", "pad", gain_db=-2.0), bell(-2.0, "pad"), bell(-2.0))] == [0, 1, 2]
    within = within_budget(on_the_mix("a", -2.0), [bell(2.0), bell(-4.0, "pad")])
    assert within is not None
    assert within.finding.remedy == bell(-1.0)
    assert within_budget(on_the_mix("a", -2.0), [bell(2.0), bell(-0.8)]) is None
    element = card("a")
    assert within_budget(element, [bell(3.0)]) == element


def test_once_the_whole_mix_is_coloured_nothing_earlier_follows() -> None:
    """The element's move helps only after the mix's: it waits for the next bounce."""

    def on_the_mix(remedy: Remedy, signal: Signal) -> Signal:
        samples = signal.samples.copy()
        if remedy.part == "mix":
            samples[0, 0] += remedy.gain_db or 0.0
        elif samples[0, 0] < 1.0:
            samples[0, 1] += remedy.gain_db or 0.0
        return Signal(samples, signal.rate_hz)

    whole = replace(card("a"), finding=replace(card("a").finding, remedy=Remedy("bell", frequency_hz=300.0, gain_db=-2.0)))
    plan = make_plan([card("b"), whole], sound(a=2.0, b=2.0), on_the_mix, listen, lambda _: None)
    assert [step.remedy.part for step in plan.steps] == ["mix"]


def test_drums_of_a_stereo_file_are_no_fader_to_move() -> None:
    def with_moves(first: Remedy, *others: Remedy) -> Card:
        return replace(card("a"), finding=replace(card("a").finding, remedy=first, others=others))

    drums, cut = Remedy("gain", "percussive", gain_db=3.0), Remedy("bell", "sustained", frequency_hz=300.0, gain_db=-2.0)
    assert makeable(with_moves(drums)).finding.remedy is None
    assert makeable(with_moves(drums, cut)).finding.remedy == cut
    assert makeable(with_moves(cut, drums)).finding.others == ()


def test_steps_left_out_leave_the_others_measured_without_them() -> None:
    mix = sound(a=2.0, b=2.0, c=2.0)
    plan = make_plan([card("a"), card("b"), card("c")], mix, apply, listen, lambda _: None)
    first, second, third = plan.steps
    replayed(plan, [first, third], mix, apply, listen)
    assert [step.remedy for step in plan.steps] == [first.remedy, third.remedy]
    assert plan.steps[0] == first
    assert plan.steps[1].trial.before == first.trial.after
    assert plan.steps[1].trial.after.excess == pytest.approx(1.5), "the second fault is there again"
    assert second.remedy not in plan.remedies


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
    assert plan.steps[1].trial.before.outcomes == plan.steps[0].trial.after.outcomes


def test_the_same_sound_gives_the_same_plan() -> None:
    cards = [card(name) for name in FAULTS]
    mix = sound(**{name: 1.0 + 0.2 * place for place, name in enumerate(FAULTS)})
    first, second = (make_plan(cards, mix, apply, listen, lambda _: None) for _ in range(2))
    assert first.remedies == second.remedies


def test_what_does_not_help_stays_out_of_the_plan_but_its_trial_is_kept() -> None:
    pushed = card("a", +2.0)
    plan = make_plan([pushed], sound(a=2.0), apply, listen, lambda _: None)
    assert plan.steps == []
    trial = plan.trial_of(pushed)
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
        shown: Finding = finding(2.0, confidence)
        return Judged((Card(rule_that(shown), shown),), (), (), ())

    assert (total_excess(judged("high")), total_excess(judged("medium")), total_excess(judged("low"))) == pytest.approx((2.0, 1.4, 0.8))


def _scaled(remedy: Remedy, factor: float) -> Remedy:
    return kind_of(remedy).amount.scaled(remedy, factor)
