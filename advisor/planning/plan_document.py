"""Trials and plan as they stand in the document: what each move was, what came of it, what it cost."""

from dataclasses import asdict, dataclass
from itertools import accumulate, pairwise
from typing import Any

from advisor.judging.judge import Card
from advisor.measuring.measured import Measured
from advisor.planning.plan import Plan
from advisor.planning.trial_readings import READINGS, Heard
from advisor.planning.trials import Trial
from advisor.remedies.careful import careful
from advisor.remedies.wording import remedy_sentence
from features.records.base import Span
from features.sound.signal import Source
from rules.remedy import Remedy

Document = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Tried:
    """Everything that was tried: on which stretches, the plan, and the whole song before and after it."""

    spans: tuple[Span, ...]
    plan: Plan
    whole_before: Heard
    whole_after: Heard | None
    left: tuple[Source, Measured] | None = None  # the song as the plan leaves it, for mastering


def remedy_document(remedy: Remedy | None) -> Document | None:
    """Return the settings the remedy uses."""
    return None if remedy is None else {name: value for name, value in asdict(remedy).items() if value is not None}


def readings(heard: Heard) -> Document:
    """Return what trials compare."""
    return {**{name: getattr(heard, name) for name in ("excess", *READINGS)}, "bands_db": [round(level, 2) for level in heard.bands_db]}


def band_edges(tried: Tried) -> list[float]:
    """Return the edges between the bands of all ``bands_db``."""
    return [round(edge, 1) for edge in tried.whole_before.band_edges_hz]


def stop_rule(advice: str) -> str:
    """Return the part of an advice that says when to stop; rules write it after a semicolon.

    >>> stop_rule("Cut 2.0 dB there; stop when it is gone.")
    'stop when it is gone'
    """
    _, found, stop = advice.partition("; ")
    return stop.rstrip(".") if found else ""


def trial_document(trial: Trial | None) -> Document | None:
    """Return one trial, with its settings and whether it helped."""
    if trial is None:
        return None
    return {
        "remedy": remedy_document(trial.remedy),
        "move": remedy_sentence(trial.remedy),
        "before": readings(trial.before),
        "after": readings(trial.after),
        "benefit": trial.benefit,
        "helps": trial.helps,
        "full_song": False,
    }


def plan_document(tried: Tried) -> list[Document]:
    """Return the steps; their loudness is the whole song's."""
    return [_step(place, outlook_lufs, tried) for place, outlook_lufs in enumerate(along_the_song(tried))]


def along_the_song(tried: Tried) -> list[float | None]:
    """Return the whole song's clean loudness after each step: the last as measured on it, those before it between.

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


def _step(place: int, outlook_lufs: float | None, tried: Tried) -> Document:
    trial = tried.plan.steps[place].trial
    card, after = trial.card, trial.after
    return {
        "step": place + 1,
        "stage": card.rule.stage,
        "rule": card.rule.id,
        "stem": card.finding.stem,
        "band_hz": None if card.finding.band_hz is None else list(card.finding.band_hz),
        "title": card.finding.title or card.rule.title,
        "confidence": card.finding.confidence,
        "remedy": remedy_document(trial.remedy),
        "move": remedy_sentence(trial.remedy),
        "stop": stop_rule(card.rule.advice.format(**card.finding.numbers)),
        "careful": careful(trial.remedy, card.finding.confidence),
        "where": [asdict(one) for one in card.finding.where],
        "outlook_after_lufs": outlook_lufs,
        "excess_after": after.excess,
        "before": readings(trial.before),
        "after": readings(after),
        "benefit": trial.benefit,
        "full_song": False,
    }


def gone_with_step(card: Card, tried: Tried) -> int | None:
    """Return the step of the plan with which a finding that has no step of its own goes away: its cause is that step's.

    It is gone from the stretches with that step in place, and from the whole song with the finished plan.
    """
    steps = tried.plan.steps
    if tried.whole_after is None or tried.whole_after.shows(card) or any(card.is_about(step.trial.card) for step in steps):
        return None
    going = (place for place, step in enumerate(steps, 1) if step.trial.before.shows(card) and not step.trial.after.shows(card))
    return next(going, None)


def check_document(tried: Tried) -> Document | None:
    """Return the finished plan's run over the whole song; only these numbers are called measured on the song."""
    if tried.whole_after is None:
        return None
    return {"before": readings(tried.whole_before), "after": readings(tried.whole_after), "full_song": True}
