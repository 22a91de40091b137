"""The plan in report.md: a table of moves, the steps as plain bars, and what the whole song gained."""

from collections.abc import Iterator

from advisor.app.words import lowered, number, plain, sentence, spans
from advisor.planning.trial_readings import READINGS
from advisor.report_model.findings import ComparedReadings, FindingCard
from advisor.report_model.master_check import MasterReport
from advisor.report_model.plan import PlanStep
from advisor.report_model.report import Report

BAR = 30
IN_THE_WAY = "In the way: all findings in the mix, added up by how sure they are; 1 is one sure finding a full tolerance past its limit."
HARMS = "it helped where it was tried, but a plan with it did more harm than good over the whole song"


def plan_text(report: Report) -> Iterator[str]:
    """Write the plan, or say why there is none."""
    if report.settings.quick or report.tried_on is None:
        return
    yield "## The plan"
    yield ""
    if not report.plan:
        yield from _no_plan(report)
        return
    yield from _how_to_use(report)
    yield "| step | move | clean loudness after it | still in the way | what else changes |"
    yield "|---:|---|---:|---:|---|"
    for step in report.plan:
        move = " ".join([sentence(with_stop(step.move, step.stop)), *step.careful, *_goes_too(step, report)])
        yield (
            f"| {step.step} | **{plain(step.title)}.** {plain(move)} | {number(step.outlook_after_lufs)} LUFS "
            f"| {number(step.excess_after)} | {plain(side_effects(step.before, step.after))} |"
        )
    yield ""
    yield from _bars(report)
    yield from _check(report)


def _how_to_use(report: Report) -> Iterator[str]:
    several = len(report.plan) > 1
    if report.verdict.ready:
        yield "The mix is ready as it is; what follows mends what is small or only suspected."
    yield (
        "Each move was tried on your audio, with the moves before it in place. Make them in this order, and stop where it says."
        if several
        else "The move was tried on your audio. Stop where it says."
    )
    yield IN_THE_WAY
    yield ""


def _goes_too(step: PlanStep, report: Report) -> Iterator[str]:
    """Say which other findings went away with a step."""
    titles = [one.title for one in report.findings if one.gone_with_step == step.step]
    if titles:
        yield f"With it {'goes' if len(titles) == 1 else 'go'}: {'; '.join(lowered(title) for title in titles)}."


def _no_plan(report: Report) -> Iterator[str]:
    trials = [one.trial for one in report.findings if one.trial is not None]
    tried, helped = len(trials), sum(one.helps for one in trials)
    if helped:
        what = "A move" if helped == 1 else f"{helped} moves"
        yield f"No plan. {what} helped on the stretches tried, but over the whole song the plan did more harm than good; none is advised."
    elif tried:
        what = (
            "The one move that could be tried on your audio did not make"
            if tried == 1
            else f"None of the {tried} moves tried on your audio made"
        )
        yield f"No plan. {what} the whole clearly better, so no move is advised; use your ears on the findings below."
    else:
        yield "No plan: nothing was found that a fader, an equaliser or a compressor could mend on this mix."
    if trials:
        yield IN_THE_WAY
    yield ""


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
    yield "How loud a plain limiter can make it, unheard:"
    yield ""
    for name, level in known:
        filled = round(BAR * (level - low) / (high - low))
        row = ["#" if place < filled else " " for place in range(BAR + 1)]
        row[min(mark, BAR)] = "|"
        yield f"    {name:9} {''.join(row)} {number(level)} LUFS"
    yield f"    {'':9} {' ' * min(mark, BAR)}| target {target:g} LUFS"
    yield ""


def _check(report: Report) -> Iterator[str]:
    check = report.plan_check
    if check is None:
        return
    before, after = check.before, check.after
    yield (
        f"Then the finished plan was run over the whole song and everything was measured again: clean loudness "
        f"{number(before.clean_lufs)} to {number(after.clean_lufs)} LUFS, still in the way {number(before.excess)} to "
        f"{number(after.excess)}; {plain(side_effects(before, after))}."
    )
    stretches = spans(report.tried_on or (), most=8)
    yield (
        f"The single steps were measured on {stretches}; their clean loudness was then brought into line with what the whole song gained. "
        "Your own tools will differ a little: check by ear at matched loudness."
    )
    yield ""


def side_effects(before: ComparedReadings, after: ComparedReadings) -> str:
    """Return what changed beyond its reporting step, each in its own unit."""
    names = [name for name in READINGS if name != "clean_lufs"]  # which stands by itself
    both = [(READINGS[name], getattr(before, name), getattr(after, name)) for name in names]
    known = [(reading, old, new) for reading, old, new in both if old is not None and new is not None]
    parts = [reading.change_words(old, new) for reading, old, new in known if abs(new - old) >= reading.step]
    return ", ".join(parts) or "nothing else worth reporting"


def with_stop(move: str, stop: str) -> str:
    """Return the move with its stop rule."""
    return f"{move}; {stop}" if stop else move


def step_for(card: FindingCard, report: Report | MasterReport) -> PlanStep | None:
    """Return the step of the plan that is about a finding: the same rule, on the same element, in the same band."""
    about = (card.rule, card.stem, card.band_hz)
    return next((step for step in report.plan if (step.rule, step.stem, step.band_hz) == about), None)


def advice_text(card: FindingCard, report: Report | MasterReport) -> str:
    """Return what to do about one finding: the move as it stands in the plan or as its trial found it, else the rule's own advice.

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
    return f"No move to advise. The usual one was tried: {how}; find the cause by ear, with the check below"


def trial_text(card: FindingCard, report: Report | MasterReport) -> Iterator[str]:
    """Write what the trial of one finding's remedy showed."""
    trial = card.trial
    if trial is None:
        return
    before, after = trial.before, trial.after
    gained = (
        f"on the stretches tried, clean loudness {number(before.clean_lufs)} to {number(after.clean_lufs)} LUFS, "
        f"in the way {number(before.excess)} to {number(after.excess)}, {plain(side_effects(before, after))}"
    )
    if trial.helps:
        step = step_for(card, report)
        other = "" if step is None or step.move == trial.move else " With the steps before it in place, the plan's move did better."
        yield f"- **Tried alone on your audio:** {plain(trial.move)}: {gained}.{other}"
    else:
        later = "" if step_for(card, report) is None else " With the steps before it in place, the plan's move helps."
        yield f"- **Tried alone on your audio, and it did not help:** {plain(trial.move)}: {gained}.{later}"
