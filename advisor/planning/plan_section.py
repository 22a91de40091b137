"""Trials and plan as they stand in the report.

What each move was, what came of it, what it cost.
"""

from itertools import accumulate, pairwise

from advisor.judging.judge import Card
from advisor.planning.plan_outcome import PlanOutcome
from advisor.planning.trial_readings import TrialReadings
from advisor.planning.trials import Trial
from advisor.remedies.careful import careful
from advisor.remedies.wording import remedy_sentence
from advisor.report_model.findings import ComparedReadings, RemedyTrial
from advisor.report_model.plan import PlanCheck, PlanStep, StepOutcomes


def compared_readings(readings: TrialReadings) -> ComparedReadings:
    """Return what trials compare."""
    return ComparedReadings(
        readings.excess,
        readings.clean_lufs,
        readings.integrated_lufs,
        readings.tilt_db_per_octave,
        readings.hits_heard,
        readings.mono_loss_db,
        tuple(round(level, 2) for level in readings.bands_db),
    )


def band_edges(tried: PlanOutcome) -> tuple[float, ...]:
    """Return the edges between the bands of all ``bands_db``."""
    return tuple(round(edge, 1) for edge in tried.whole_before.band_edges_hz)


def remedy_trial(trial: Trial | None) -> RemedyTrial | None:
    """Return one trial, with its settings and whether it helped."""
    if trial is None:
        return None
    return RemedyTrial(
        trial.remedy,
        remedy_sentence(trial.remedy),
        compared_readings(trial.before),
        compared_readings(trial.after),
        trial.benefit,
        trial.helps,
    )


def plan_steps(tried: PlanOutcome) -> tuple[PlanStep, ...]:
    """Return the steps. Their loudness is the whole song's."""
    return tuple(_step(place, outlook_lufs, tried) for place, outlook_lufs in enumerate(along_the_song(tried)))


def along_the_song(tried: PlanOutcome) -> list[float | None]:
    """Return the whole song's clean loudness after each step.

    The last as measured on it, those before it between.
    Only the finished plan is run over the whole song, whose other stretches may gain more or less than the excerpt. What the excerpt
    misses is shared out by how much each step changes there, so that the steps add up to what was measured.
    """
    whole, before = tried.whole_before.clean_lufs, tried.plan.before.clean_lufs
    steps = [step.trial.after.clean_lufs for step in tried.plan.steps]
    known = [level for level in steps if level is not None]
    if whole is None or before is None or len(known) < len(steps) or not steps:
        return [None] * len(steps)
    after = None if tried.whole_after is None else tried.whole_after.clean_lufs
    missed = 0.0 if after is None else (after - whole) - (known[-1] - before)
    moved = list(accumulate(abs(new - old) for old, new in pairwise([before, *known])))
    shares = [done / moved[-1] if moved[-1] > 0.0 else (place + 1) / len(moved) for place, done in enumerate(moved)]
    return [whole + (level - before) + missed * share for level, share in zip(known, shares, strict=True)]


def _step(place: int, outlook_lufs: float | None, tried: PlanOutcome) -> PlanStep:
    trial = tried.plan.steps[place].trial
    rule, finding = trial.card.rule, trial.card.finding
    return PlanStep(
        step=place + 1,
        stage=rule.stage,
        rule=rule.id,
        stem=trial.card.stem,
        band_hz=finding.band_hz,
        title=finding.title or rule.title,
        confidence=finding.confidence,
        remedy=trial.remedy,
        move=remedy_sentence(trial.remedy),
        stop=rule.stop_clause.format(**finding.numbers),
        careful=tuple(careful(trial.remedy, finding.confidence)),
        where=finding.where,
        outlook_after_lufs=outlook_lufs,
        excess_after=trial.after.excess,
        before=compared_readings(trial.before),
        after=compared_readings(trial.after),
        benefit=trial.benefit,
        attribution=trial.card.attribution,
        outcomes=_outcomes(trial),
    )


def _outcomes(trial: Trial) -> StepOutcomes:
    change, moved = trial.outcomes.change, trial.outcomes.moved
    before_lu, after_lu = trial.before.outcomes.room_lu, trial.after.outcomes.room_lu
    room_lu = None if before_lu is None or after_lu is None else after_lu - before_lu
    return StepOutcomes(room_lu, change.audibility, change.tone, change.mono, change.damage, moved.steps)


def gone_with_step(card: Card, tried: PlanOutcome) -> int | None:
    """Return the step with which this finding goes away.

    It has no step of its own: its cause is that step's.
    It is gone from the stretches with that step in place, and from the whole song with the finished plan.
    """
    steps = tried.plan.steps
    if tried.whole_after is None or tried.whole_after.shows(card) or any(card.is_about(step.trial.card) for step in steps):
        return None
    going = (place for place, step in enumerate(steps, 1) if step.trial.before.shows(card) and not step.trial.after.shows(card))
    return next(going, None)


def plan_check(tried: PlanOutcome) -> PlanCheck | None:
    """Return the finished plan's run over the whole song.

    Only these numbers are called measured on the song.
    """
    if tried.whole_after is None:
        return None
    return PlanCheck(compared_readings(tried.whole_before), compared_readings(tried.whole_after))
