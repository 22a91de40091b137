"""Writes what each step brings and each card advises."""

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.app.words import first_sentence, lowered, number, spans
from advisor.planning.paying import MOST_ROOM_LOST_LU
from advisor.planning.trial_readings import READINGS
from advisor.report.filling import filled
from advisor.report.sections.critique.front.moves import front_moves
from advisor.report_model.findings import ComparedReadings, FindingCard
from advisor.report_model.master_check import MasterReport
from advisor.report_model.plan import PlanStep
from advisor.report_model.report import Report

PLACE = 55
HARMS = "it helped where it was tried, but over the whole song it gained too little, or cost too much clean loudness"


@dataclass(frozen=True, slots=True)
class TrialWords:
    """What the trial of one finding's remedy showed."""

    helps: bool
    move: str
    gained: str
    remark: str


def section(report: Report) -> Iterator[str]:
    """Yield the plan, step by step.

    Nothing without one.
    """
    if report.plan:
        yield from filled(
            __name__,
            steps=[(step, _careful(step, report), _steps(step), side_effects(step.before, step.after)) for step in report.plan],
            check=list(_check(report)),
        )


def _careful(step: PlanStep, report: Report) -> str:
    return " ".join([*step.careful, *_goes_too(step, report)])


def _steps(step: PlanStep) -> tuple[str, str, str, str]:
    """Return room, audibility, tone and distance moved, for the table."""
    outcomes = step.outcomes
    if outcomes is None:
        return "?", "?", "?", "?"
    room, audible, tone = ("?" if gain is None else f"{gain:+.1f}" for gain in (outcomes.room_lu, outcomes.audibility, outcomes.tone))
    return f"{room} LU", audible, tone, number(outcomes.moved)


def _goes_too(step: PlanStep, report: Report) -> Iterator[str]:
    """Say which other findings went away with a step."""
    titles = [card.title for card in report.findings if card.gone_with_step == step.step]
    if titles:
        yield f"With it {'goes' if len(titles) == 1 else 'go'}: {'; '.join(lowered(title) for title in titles)}."


def _check(report: Report) -> Iterator[str]:
    check = report.plan_check
    if check is None:
        return
    before, after = check.before, check.after
    yield (
        f"The finished plan, run over the whole song: clean loudness {number(before.clean_lufs)} to {number(after.clean_lufs)} LUFS; "
        f"{side_effects(before, after)}."
    )
    yield from _why_it_may_cost(before, after, report)
    stretches = spans(report.tried_on or (), most=8)
    yield (
        f"The single steps were measured on {stretches}, and their clean loudness brought into line with that of the whole song. "
        "Your own tools will differ a little: check by ear at matched loudness."
    )


def _why_it_may_cost(before: ComparedReadings, after: ComparedReadings, report: Report) -> Iterator[str]:
    """Say why a plan may cost loudness, where it does."""
    if before.clean_lufs is None or after.clean_lufs is None or after.clean_lufs >= before.clean_lufs - MOST_ROOM_LOST_LU:
        return
    yield (
        f"It costs {number(before.clean_lufs - after.clean_lufs)} LU of clean loudness that you do not need: the song still reaches "
        f"{number(after.clean_lufs - report.settings.target_lufs)} LU more than the target, and more of it is audible."
    )


def side_effects(before: ComparedReadings, after: ComparedReadings) -> str:
    """Return what changed by more than its reporting step."""
    names = [name for name in READINGS if name != "clean_lufs"]  # which stands by itself
    both = [(READINGS[name], getattr(before, name), getattr(after, name)) for name in names]
    known = [(reading, old, new) for reading, old, new in both if old is not None and new is not None]
    parts = [reading.change_words(old, new) for reading, old, new in known if abs(new - old) >= reading.step]
    return ", ".join(parts) or "nothing else worth reporting"


def step_for(card: FindingCard, report: Report | MasterReport) -> PlanStep | None:
    """Return the step for a finding's rule, element and band."""
    about = (card.rule, card.stem, card.band_hz)
    return next((step for step in report.plan if (step.rule, step.stem, step.band_hz) == about), None)


def advice_text(card: FindingCard, report: Report | MasterReport) -> str:
    """Return the plan's, the trial's or the rule's advice.

    What stands on the front page is not said again. A move that was tried and did not help is not advised; the finding stays.
    """
    place, step, trial = front_place(card, report), step_for(card, report), card.trial
    if place is not None:
        return with_stop(f"Move {place} above", card.stop)
    if step is not None:
        return f"{with_stop(step.move, step.stop)} (step {step.step}, after the moves above)"
    if card.gone_with_step is not None:
        return f"Nothing of its own at first: it goes away with step {card.gone_with_step} of the plan"
    if trial is None:
        untried = " (not tried on your audio)" if report_tried(report) and card.remedy is not None else ""
        return f"{one_sentence(card)}{untried}"
    if trial.helps and report.plan:
        return f"{with_stop(trial.move, card.stop)}, if it is still needed after the plan"
    how = HARMS if trial.helps else "it did not help"
    return f"Decide by ear: the usual move was tried, and {how}"


def front_place(card: FindingCard, report: Report | MasterReport) -> int | None:
    """Return which move of the front page a finding has.

    None where it has none.
    """
    if isinstance(report, MasterReport):
        return None
    about = (card.rule, card.stem, card.band_hz)
    return next((place for place, move in enumerate(front_moves(report), 1) if about in move.about), None)


def report_tried(report: Report | MasterReport) -> bool:
    """Return whether remedies were tried on the song."""
    return isinstance(report, Report) and report.tried_on is not None


def one_sentence(card: FindingCard) -> str:
    """Return a rule's advice and stop rule as one sentence."""
    return with_stop(first_sentence(card.advice).rstrip("."), card.stop)


def with_stop(move: str, stop: str) -> str:
    """Return the move with its stop rule."""
    return f"{move}; {stop}" if stop else move


def trial_text(card: FindingCard, report: Report | MasterReport) -> TrialWords | None:
    """Return what the trial of one finding's remedy showed."""
    trial = card.trial
    if trial is None:
        return None
    before, after = trial.before, trial.after
    gained = (
        f"on the stretches tried, clean loudness {number(before.clean_lufs)} to {number(after.clean_lufs)} LUFS, "
        f"{side_effects(before, after)}"
    )
    step, remark = step_for(card, report), ""
    if step is not None and not trial.helps:
        remark = " With the steps before it in place, the plan's move helps."
    elif step is not None and step.move != trial.move:
        remark = " With the steps before it in place, the plan's move did better."
    return TrialWords(trial.helps, trial.move, gained, remark)
