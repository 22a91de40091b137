"""What each step of a plan promised to change: read from the plan, and from a remedy's own curve."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.app.finding_key import FindingKey
from advisor.history.reading import all_findings, key_of
from advisor.remedies.discovery import can_be_made, find_kind
from rules.remedy import Remedy

Document = Mapping[str, Any]
Floats = NDArray[np.float64]

RATE_HZ = 192000.0  # high enough that the curve is the analogue one up to 20 kHz
PLACES = 10.0 ** (0.05 * np.linspace(-20.0, 20.0, 21) / 21.0)  # inside a third octave
THIRDS = 3


@dataclass(frozen=True, slots=True)
class Promise:
    """One move that was advised: its remedy, whose finding it is, and what its trial changed (None where it was not tried).

    ``octaves_db`` are the mix's octaves, ``hits_heard`` the audible share of the usual hit. ``room`` is how much more of it the
    rule itself asked for: the plan takes the smallest amount that does most of the good.
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


def remedy_of(document: Document) -> Remedy:
    """Return the remedy a report holds; settings that this version does not know are left out."""
    known = {each.name for each in fields(Remedy)}
    return Remedy(**{name: value for name, value in document.items() if name in known})


def promises(report: Document) -> tuple[Promise, ...]:
    """Return the steps of a report's plan."""
    by_rule: dict[str, list[Document]] = {}
    for one in all_findings(report):
        by_rule.setdefault(one["rule"], []).append(one)
    return tuple(_promise(step, by_rule.get(step["rule"], [])) for step in report["plan"] if step.get("remedy"))


def _promise(step: Document, findings: Sequence[Document]) -> Promise:
    same = [one for one in findings if one["title"] == step["title"]] or list(findings)
    finding = same[0] if same else None
    before, after = step["before"].get("bands_db") or (), step["after"].get("bands_db") or ()
    octaves = tuple(new - old for old, new in zip(before, after, strict=True)) if before and len(before) == len(after) else None
    old, new = step["before"].get("hits_heard"), step["after"].get("hits_heard")
    hits = None if old is None or new is None else float(new - old)
    remedy = remedy_of(step["remedy"])
    key = FindingKey(step["rule"]) if finding is None else key_of(finding)
    excess = 0.0 if finding is None else float(finding["excess"])
    return Promise(int(step["step"]), step["title"], step["move"], remedy, key, excess, octaves, hits, _room(remedy, finding))


def _room(planned: Remedy, finding: Document | None) -> float:
    """Return by which factor the rule's own amount is larger than the planned one, at least 1."""
    asked = None if finding is None or not finding.get("remedy") else remedy_of(finding["remedy"])
    if asked is None or asked.kind != planned.kind or not asked.gain_db or not planned.gain_db:
        return 1.0
    return max(asked.gain_db / planned.gain_db, 1.0)


def advised(report: Document, move_of: Mapping[str, str] | None = None) -> tuple[Promise, ...]:
    """Return the moves that the findings of a report ask for, one for each cause, as their rules propose them, untried."""
    found = [one for one in report["findings"] if one.get("remedy") and can_be_made(remedy_of(one["remedy"]))]
    moves = move_of or {}
    return tuple(
        Promise(place, one["title"], moves.get(one["title"], one["advice"]), remedy_of(one["remedy"]), key_of(one), float(one["excess"]))
        for place, one in enumerate(found, 1)
    )


def _response_db(sections: Floats, hz: Floats) -> Floats:
    z = np.exp(-2j * np.pi * hz / RATE_HZ)
    power = np.ones(hz.shape)
    for b0, b1, b2, a1, a2 in sections:
        power *= np.abs((b0 + b1 * z + b2 * z * z) / (1.0 + a1 * z + a2 * z * z)) ** 2
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-6)))


def curve_db(promise: Promise, third_octave_hz: Sequence[float]) -> Floats | None:
    """Return what the move does to the mix's third octaves; None where it is no equaliser.

    Where the trial showed how much of it reaches the mix (a move on one part reaches it only partly), the curve is scaled to that.
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
    """Return which share of the curve the trial found in the mix."""
    if promise.octaves_db is None:
        return 1.0
    octaves = curve[1 : 1 + THIRDS * (len(curve[1:]) // THIRDS)].reshape(-1, THIRDS).mean(axis=1)
    count = min(len(octaves), len(promise.octaves_db))
    own, found = octaves[:count], np.asarray(promise.octaves_db[:count])
    size = float(np.sum(own * own))
    return min(max(float(np.sum(own * found)) / size, 0.0), 1.2) if size > 0.0 else 1.0
