"""Writes the plan, its bars and what the song gained."""

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.app.words import lowered, number, sentence, spans
from advisor.planning.paying import MOST_ROOM_LOST_LU
from advisor.planning.trial_readings import READINGS
from advisor.report.filling import filled
from advisor.report_model.findings import ComparedReadings, FindingCard
from advisor.report_model.master_check import MasterReport
from advisor.report_model.plan import PlanStep
from advisor.report_model.report import Report

PLACE = 20
BAR = 30
STEPS = "Room is clean loudness gained. Audibility, tone and distance moved count in steps that a listener just notices; plus is better."
HARMS = "it helped where it was tried, but over the whole song it gained too little, or cost too much of how loud it can go"


@dataclass(frozen=True, slots=True)
class TrialWords:
    """What the trial of one finding's remedy showed."""

    helps: bool
    move: str
    gained: str
    remark: str


def section(report: Report) -> Iterator[str]:
    """Yield the plan, or why there is none."""
    if report.settings.quick or report.tried_on is None:
        return
    yield from filled(
        __name__,
        introduction=list(_how_to_use(report) if report.plan else _no_plan(report)),
        steps=[(step, _move(step, report), _steps(step), side_effects(step.before, step.after)) for step in report.plan],
        bars=list(_bars(report)),
        check=list(_check(report)) if report.plan else (),
    )


def _move(step: PlanStep, report: Report) -> str:
    return " ".join([sentence(with_stop(step.move, step.stop)), *step.careful, *_goes_too(step, report)])


def _how_to_use(report: Report) -> Iterator[str]:
    several = len(report.plan) > 1
    if report.verdict.ready:
        yield "The mix is ready as it is; what follows mends what is small or only suspected."
    yield (
        "Each move was tried on your audio, with the moves before it in place. Make them in this order, and stop where it says."
        if several
        else "The move was tried on your audio. Stop where it says."
    )
    yield STEPS


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


def _no_plan(report: Report) -> Iterator[str]:
    trials = [card.trial for card in report.findings if card.trial is not None]
    tried, helped = len(trials), sum(trial.helps for trial in trials)
    if helped:
        what = "A move" if helped == 1 else f"{helped} moves"
        yield f"Leave it. {what} helped on the stretches tried, but not enough over the whole song, or at the cost of how loud it can go."
    elif tried:
        what = (
            "The one move that could be tried on your audio did not make"
            if tried == 1
            else f"None of the {tried} moves tried on your audio made"
        )
        yield f"Leave it. {what} the song better by more than a listener just notices, so no move is advised."
    else:
        yield "Leave it: nothing was found that a fader, an equaliser or a compressor could mend on this mix."


def _bars(report: Report) -> Iterator[str]:
    start = report.outlook.clean_lufs if report.outlook else None
    levels = [("as it is", start), *((f"step {step.step}", step.outlook_after_lufs) for step in report.plan)]
    known = [(name, level) for name, level in levels if level is not None]
    if len(known) < 2:
        return
    target = report.settings.target_lufs
    low = min(*(level for _, level in known), target) - 1.0
    high = max(*(level for _, level in known), target) + 0.5
    mark = round(BAR * (target - low) / (high - low))
    for name, level in known:
        length = round(BAR * (level - low) / (high - low))
        row = ["#" if place < length else " " for place in range(BAR + 1)]
        row[min(mark, BAR)] = "|"
        yield f"{name:9} {''.join(row)} {number(level)} LUFS"
    yield f"{'':9} {' ' * min(mark, BAR)}| target {target:g} LUFS"


def _check(report: Report) -> Iterator[str]:
    check = report.plan_check
    if check is None:
        return
    before, after = check.before, check.after
    yield (
        f"Then the finished plan was run over the whole song and everything was measured again: clean loudness "
        f"{number(before.clean_lufs)} to {number(after.clean_lufs)} LUFS; {side_effects(before, after)}."
    )
    yield from _why_it_may_cost(before, after, report)
    stretches = spans(report.tried_on or (), most=8)
    yield (
        f"The single steps were measured on {stretches}; their clean loudness was then brought into line with what the whole song gained. "
        "Your own tools will differ a little: check by ear at matched loudness."
    )


def _why_it_may_cost(before: ComparedReadings, after: ComparedReadings, report: Report) -> Iterator[str]:
    """Say why a plan may cost loudness, where it does."""
    if before.clean_lufs is None or after.clean_lufs is None or after.clean_lufs >= before.clean_lufs - MOST_ROOM_LOST_LU:
        return
    yield (
        f"It costs {number(before.clean_lufs - after.clean_lufs)} LU of how loud the song can go, which you do not need: it still goes "
        f"{number(after.clean_lufs - report.settings.target_lufs)} LU past the target, and more of it is heard."
    )


def side_effects(before: ComparedReadings, after: ComparedReadings) -> str:
    """Return what changed by more than its reporting step."""
    names = [name for name in READINGS if name != "clean_lufs"]  # which stands by itself
    both = [(READINGS[name], getattr(before, name), getattr(after, name)) for name in names]
    known = [(reading, old, new) for reading, old, new in both if old is not None and new is not None]
    parts = [reading.change_words(old, new) for reading, old, new in known if abs(new - old) >= reading.step]
    return ", ".join(parts) or "nothing else worth reporting"


def with_stop(move: str, stop: str) -> str:
    """Return the move with its stop rule."""
    return f"{move}; {stop}" if stop else move


def step_for(card: FindingCard, report: Report | MasterReport) -> PlanStep | None:
    """Return the step for a finding's rule, element and band."""
    about = (card.rule, card.stem, card.band_hz)
    return next((step for step in report.plan if (step.rule, step.stem, step.band_hz) == about), None)


def advice_text(card: FindingCard, report: Report | MasterReport) -> str:
    """Return the plan's, the trial's or the rule's advice.

    A move that was tried and did not help is not advised; the finding stays.
    """
    step = step_for(card, report)
    trial = card.trial
    if step is not None:
        return f"{with_stop(step.move, step.stop)} (step {step.step} of the plan)"
    if card.gone_with_step is not None:
        return f"Nothing of its own at first: with step {card.gone_with_step} of the plan in place it is no longer found in your song"
    if trial is None:
        return str(card.advice)
    if trial.helps and report.plan:
        return f"{with_stop(trial.move, card.stop)}. Make the plan's moves first, then see whether it is still needed"
    how = HARMS if trial.helps else "it did not help here"
    return f"No fix found. The usual move was tried: {how}; find the cause by ear, with the check below"


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
