"""Plan and trials in the report: one amount for one move, nothing advised that did not help, and a verdict that agrees."""

from dataclasses import replace
from typing import Any

import pytest

from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import Card, Judged, judge
from advisor.judging.verdict import verdict
from advisor.measuring.measured import Measured
from advisor.outcomes.outcomes import outcomes_of
from advisor.planning.plan import Plan, Step
from advisor.planning.plan_outcome import PlanOutcome
from advisor.planning.trial_readings import TrialReadings
from advisor.planning.trials import Trial
from advisor.remedies.careful import NOT_SURE, TOO_DEEP, careful
from advisor.report import markdown
from advisor.report.build import Tries, build
from advisor.report.sections.critique.cards.plan import _goes_too, advice_text
from advisor.report_model.findings import ComparedReadings, FindingCard, RemedyTrial
from advisor.report_model.plan import PlanStep, StepOutcomes
from advisor.report_model.report import Report
from features.records.base import Span
from features.tone.target import general_target
from rules.base import Confidence
from rules.remedy import Remedy
from tests import records
from tests.advisor.samples import all_records, finding, report, rule_that

NOTHING = Judged((), (), (), ())


def readings(excess: float) -> TrialReadings:
    """Return readings whose tone is two nats less likely for each tolerance past a limit."""
    outcomes = replace(outcomes_of({}, general_target()), tone_nats=2.0 * excess, room_lu=0.2)
    return TrialReadings(excess, -11.0, -18.0, -5.0, 0.8, 1.0, NOTHING, outcomes=outcomes)


def text(*, helps: bool, planned: bool, confidence: Confidence = "high") -> str:
    dull = replace(finding(1.0, confidence), remedy=Remedy("bell", frequency_hz=930.0, gain_db=-3.5, q=2.0))
    rule = replace(rule_that(dull, "a"), advice="Cut 3.5 dB there.", stop="when it is gone")
    records_now = all_records()
    judged = judge(Measured(records_now, ()), yardstick_of(Settings()), (rule,))
    card = Card(rule, dull)
    trial = Trial(card, Remedy("bell", frequency_hz=930.0, gain_db=-1.8, q=2.0), readings(2.0), readings(1.0 if helps else 2.1))
    plan = Plan(readings(2.0), [Step(trial)] if planned else [], {rule.id: trial})
    tried = PlanOutcome((Span(10.0, 20.0),), plan, readings(2.0), readings(1.0) if planned else None)
    return markdown.whole(build(Measured(records_now, ()), judged, verdict(records_now, judged), Settings(), (), Tries(tried)))


def test_the_amount_the_plan_found_stands_once_on_the_front_page() -> None:
    shown = text(helps=True, planned=True)
    assert "1. **Title of a** (listen at 1:01-1:10): cut 1.8 dB around 930 Hz" in shown
    assert "on the whole mix. Brings: tone clearly closer to your references." in shown
    assert "- **Do:** Move 1 above; stop when it is gone." in shown
    assert "Cut 3.5 dB" not in shown


def test_the_table_tells_outcomes_and_not_what_the_rules_say() -> None:
    shown = text(helps=True, planned=True)
    assert "| step | clean loudness after it | room | audibility | tone | moved | what else changes |" in shown
    assert "| +0.0 LU | ? | +2.0 | 0.0 |" in shown
    assert "in the way:" not in shown.lower()
    assert "still in the way" not in shown


def test_what_did_not_help_is_not_advised() -> None:
    shown = text(helps=False, planned=False)
    assert "Decide by ear: the usual move was tried" in shown
    assert "Cut 3.5 dB" not in shown
    assert "it did not help" in shown


def test_an_unsure_step_says_so() -> None:
    assert "try it by ear first" in text(helps=True, planned=True, confidence="low")
    assert "try it by ear first" not in text(helps=True, planned=True)


def test_a_shortfall_within_the_rules_tolerance_is_not_told_as_one() -> None:
    nearly = records.outlook(clean_lufs=-13.1, margin_lu=-0.1, reaches_target=False)
    short = replace(rule_that(None, "short_of_target"))
    said = report(short, outlook=nearly).verdict
    assert said.ready is True
    assert "to -13.1 LUFS before the limiter is heard" in said.sentence
    assert report(outlook=nearly).verdict.ready is False


@pytest.mark.parametrize(
    ("remedy", "confidence", "cautions"),
    [
        (Remedy("bell", frequency_hz=250.0, gain_db=-12.0, q=2.0), "medium", [TOO_DEEP]),
        (Remedy("bell", frequency_hz=250.0, gain_db=-6.0, q=2.0), "medium", []),
        (Remedy("bell", "pad", frequency_hz=250.0, gain_db=-12.0, q=2.0), "medium", []),
        (Remedy("gain", gain_db=-12.0), "low", [NOT_SURE]),
        (Remedy("high_shelf", frequency_hz=8000.0, gain_db=7.0), "low", [NOT_SURE, TOO_DEEP]),
    ],
)
def test_what_to_mind_about_a_move(remedy: Remedy, confidence: Confidence, cautions: list[str]) -> None:
    assert careful(remedy, confidence) == cautions


READINGS = ComparedReadings(1.0, -11.0, -18.0, -5.0, 0.8, 1.0)
CUT = Remedy("bell", frequency_hz=930.0, gain_db=-3.5, q=2.0)


def card_of(rule: str, advice: str, **changed: Any) -> FindingCard:  # noqa: ANN401 - any field
    """Return a finding's card."""
    fields: dict[str, Any] = {
        "rule": rule, "stage": "mixing", "topic": "tone", "title": "Dull", "message": "m", "advice": advice, "confidence": "high",
        "excess": 1.0, "rank": 1, "sure_because": "s", "cause": "excess", "why": "w", "check_by_ear": "c", "fine_if": "f",
    }  # fmt: skip
    return FindingCard(**{**fields, **changed})


def step_of(place: int, rule: str, stem: str | None = None, move: str = "Move it") -> PlanStep:
    """Return a step of a plan."""
    return PlanStep(
        step=place, stage="mixing", rule=rule, stem=stem, band_hz=None, title="T", confidence="high", remedy=CUT, move=move, stop="",
        careful=(), where=(), outlook_after_lufs=None, excess_after=0.0, before=READINGS, after=READINGS, benefit=1.0,
        outcomes=StepOutcomes(0.1, None, 1.2, 0.0, -0.1, 0.4),
    )  # fmt: skip


def report_with(*cards: FindingCard, plan: tuple[PlanStep, ...] = ()) -> Report:
    """Return a report with these findings and this plan."""
    return replace(report(), findings=cards, plan=plan)


def test_each_element_gets_its_own_step_of_one_rule() -> None:
    steps = tuple(step_of(place, "mixing/a", stem, f"More of '{stem}'") for place, stem in enumerate(("keys", "kick"), 1))
    cards = [card_of("mixing/a", "Raise it", stem=stem) for stem in ("kick", "keys", "pad")]
    texts = [advice_text(card, report_with(plan=steps)) for card in cards]
    assert texts == ["Move 2 above", "Move 1 above", "Raise it"]


def test_a_step_past_the_front_page_is_told_on_its_card() -> None:
    steps = tuple(step_of(place, "mixing/a", stem, f"More of '{stem}'") for place, stem in enumerate(("keys", "kick", "pad", "lead"), 1))
    advice = advice_text(card_of("mixing/a", "Raise it", stem="lead"), report_with(plan=steps))
    assert advice == "More of 'lead' (step 4, after the moves above)"


def test_what_went_away_with_another_step_is_not_advised_twice() -> None:
    card = card_of("mixing/b", "Cut it", gone_with_step=2)
    assert "step 2 of the plan" in advice_text(card, report_with())
    assert "Cut it" not in advice_text(card, report_with())
    assert list(_goes_too(step_of(2, "mixing/a"), report_with(card))) == ["With it goes: dull."]
    assert list(_goes_too(step_of(1, "mixing/a"), report_with(card))) == []


def test_what_helped_the_stretches_and_harmed_the_song_is_not_advised() -> None:
    shown = text(helps=True, planned=False)
    assert "No move is advised: the one move that was tried did not gain more than it costs." in shown
    assert "Decide by ear: the usual move was tried" in shown


def test_a_move_outside_the_plan_comes_after_it() -> None:
    trial = RemedyTrial(CUT, "Cut it", READINGS, READINGS, 1.0, helps=True)
    card = card_of("mixing/b", "Cut it. Stop when it is gone.", stop="stop when it is gone", trial=trial)
    advice = advice_text(card, report_with(plan=(step_of(1, "mixing/a"),)))
    assert advice == "Cut it; stop when it is gone, if it is still needed after the plan"


def test_the_front_page_names_faults_by_how_sure_they_are_and_the_file() -> None:
    loud = records.outlook(clean_lufs=-11.0)
    two = (rule_that(finding(1.0, "low"), "a"), rule_that(finding(1.0, cause="lack"), "b"))
    assert "very likely: title of b; possible: title of a" in markdown.render(report(*two, outlook=loud))
    cut = report(rule_that(finding(1.0), "c", stage="delivery"), outlook=loud)
    assert cut.verdict.ready
    assert "**File.** 1 thing to put right (move 1)." in markdown.render(cut)
