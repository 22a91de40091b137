"""What each step of a plan promised to change.

Read from the plan, and from a remedy's own curve.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.app.finding_key import FindingKey
from advisor.history.reading import all_findings, key_of
from advisor.remedies.discovery import can_be_made, find_kind
from advisor.report_model.findings import ReportedFinding
from advisor.report_model.plan import PlanStep
from advisor.report_model.report import Report
from rules.remedy import Remedy

Floats = NDArray[np.float64]

RATE_HZ = 192000.0  # high enough that the curve is the analogue one up to 20 kHz
PLACES = 10.0 ** (0.05 * np.linspace(-20.0, 20.0, 21) / 21.0)  # inside a third octave
THIRDS = 3


@dataclass(frozen=True, slots=True)
class Promise:
    """One move that was advised, and what its trial changed.

    ``octaves_db`` are the changes of the mix's octaves, ``hits_heard`` that of the audible share of the usual hit; None where it was not
    tried. ``room`` is how much more of it the rule itself asked for: the plan takes the smallest amount that does most of the good.
    """

    step: int
    title: str
    move: str
    remedy: Remedy
    key: FindingKey
    excess: float
    octaves_db: tuple[float, ...] | None = None
    hits_heard: float | None = None
    room: float = 1.0


def promises(report: Report) -> tuple[Promise, ...]:
    """Return the steps of a report's plan."""
    by_rule: dict[str, list[ReportedFinding]] = {}
    for finding in all_findings(report):
        by_rule.setdefault(finding.rule, []).append(finding)
    return tuple(_promise(step, by_rule.get(step.rule, [])) for step in report.plan)


def _promise(step: PlanStep, findings: Sequence[ReportedFinding]) -> Promise:
    same = [finding for finding in findings if finding.title == step.title] or list(findings)
    finding = same[0] if same else None
    before, after = step.before, step.after
    comparable = before.bands_db and len(before.bands_db) == len(after.bands_db)
    octaves = tuple(new - old for old, new in zip(before.bands_db, after.bands_db, strict=True)) if comparable else None
    unheard = before.hits_heard is None or after.hits_heard is None
    return Promise(
        step=step.step,
        title=step.title,
        move=step.move,
        remedy=step.remedy,
        key=FindingKey(step.rule) if finding is None else key_of(finding),
        excess=0.0 if finding is None else finding.excess,
        octaves_db=octaves,
        hits_heard=None if unheard else (after.hits_heard or 0.0) - (before.hits_heard or 0.0),
        room=_room(step.remedy, finding),
    )


def _room(planned: Remedy, finding: ReportedFinding | None) -> float:
    """Return the factor by which the rule asks for more."""
    asked = None if finding is None else finding.remedy
    if asked is None or asked.kind != planned.kind or not asked.gain_db or not planned.gain_db:
        return 1.0
    return max(asked.gain_db / planned.gain_db, 1.0)


def advised(report: Report, move_of: Mapping[str, str] | None = None) -> tuple[Promise, ...]:
    """Return the moves that a report's findings ask for, untried.

    One for each cause, as its rule proposes it; ``move_of`` holds the words for a finding's move by its title.
    """
    asking = [(card, card.remedy) for card in report.findings if card.remedy is not None and can_be_made(card.remedy)]
    moves = move_of or {}
    return tuple(
        Promise(place, card.title, moves.get(card.title, card.advice), remedy, key_of(card), card.excess)
        for place, (card, remedy) in enumerate(asking, 1)
    )


def _response_db(sections: Floats, hz: Floats) -> Floats:
    z = np.exp(-2j * np.pi * hz / RATE_HZ)
    power = np.ones(hz.shape)
    for b0, b1, b2, a1, a2 in sections:
        power *= np.abs((b0 + b1 * z + b2 * z * z) / (1.0 + a1 * z + a2 * z * z)) ** 2
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-6)))


def curve_db(promise: Promise, third_octave_hz: Sequence[float]) -> Floats | None:
    """Return what the move does to the mix's third octaves.

    None where it is no equaliser. Where the trial showed how much of it reaches the mix (a move on one part reaches it only partly), the
    curve is scaled to that.
    """
    kind, hz = find_kind(promise.remedy), promise.remedy.frequency_hz
    if kind is None or kind.followed_by.sections is None or hz is None:
        return None
    sections = kind.followed_by.sections(promise.remedy, RATE_HZ, hz)
    centres = np.asarray(third_octave_hz)
    power = 10.0 ** (_response_db(sections, centres[:, None] * PLACES[None, :]) / 10.0)
    curve: Floats = 10.0 * np.log10(power.mean(axis=1))
    return curve * _reach(curve, promise)


def _reach(curve: Floats, promise: Promise) -> float:
    """Return the curve's share that reached the trial's mix."""
    if promise.octaves_db is None:
        return 1.0
    octaves = curve[1 : 1 + THIRDS * (len(curve[1:]) // THIRDS)].reshape(-1, THIRDS).mean(axis=1)
    count = min(len(octaves), len(promise.octaves_db))
    own, tried = octaves[:count], np.asarray(promise.octaves_db[:count])
    size = float(np.sum(own * own))
    return min(max(float(np.sum(own * tried)) / size, 0.0), 1.2) if size > 0.0 else 1.0
