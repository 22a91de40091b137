"""Which finding of one bounce is which of the next.

What became of each follows from that: pure functions over plain records.
"""

from collections.abc import Iterable, Sequence
from math import log2

from advisor.app.finding_key import Band, FindingKey, SetAside
from advisor.judging.finding_records import BounceFindings, FindingChange, FindingHistory, PastFinding, State
from advisor.judging.reporting import EXCESS_STEP

THIRD_OCTAVE = 1.0 / 3.0
ROUNDING = 0.005  # octaves
CLEARLY = 1.0  # tolerances by which a finding that was set aside must grow to be shown again


def distance(first: FindingKey, second: FindingKey) -> float | None:
    """Return how far apart two findings lie.

    None when they are two different findings. Bands that share more than half of the narrower one are the same, at the octaves between
    their centres; bands whose centres lie no more than a third of an octave apart are the same too, but only where nothing nearer is
    (1 is added).
    """
    if (first.rule, first.stem, first.side) != (second.rule, second.stem, second.side):
        return None
    if first.band_hz is None or second.band_hz is None:
        return 0.0 if first.band_hz is second.band_hz else None
    apart = abs(_centre(first.band_hz) - _centre(second.band_hz))
    if overlap(first.band_hz, second.band_hz) > 0.5:
        return apart
    return 1.0 + apart if apart <= THIRD_OCTAVE + ROUNDING else None


def _centre(band: Band) -> float:
    return 0.5 * (log2(band[0]) + log2(band[1]))


def overlap(first: Band, second: Band) -> float:
    """Return the share of the narrower band, in octaves.

    It is what the other band covers.
    """
    low, high = max(first[0], second[0]), min(first[1], second[1])
    narrower = min(log2(band[1] / band[0]) for band in (first, second))
    if high <= low or narrower <= 0.0:
        return 0.0
    return log2(high / low) / narrower


def pairs(histories: Sequence[FindingHistory], findings: Sequence[PastFinding]) -> dict[int, int]:
    """Return which finding (by place) continues which history (by place).

    The nearest are paired first, open histories before solved ones.
    """
    close: list[tuple[float, bool, int, int]] = []
    for place, finding in enumerate(findings):
        for number, history in enumerate(histories):
            apart = distance(history.last.key, finding.key)
            if apart is not None:
                close.append((round(apart, 6), history.solved is not None, place, number))
    taken: dict[int, int] = {}
    for _, _, place, number in sorted(close):
        if place not in taken and number not in taken.values():
            taken[place] = number
    return taken


def follow(histories: Sequence[FindingHistory], bounce: BounceFindings) -> tuple[tuple[FindingChange, ...], tuple[FindingHistory, ...]]:
    """Return what became of every finding, and new histories.

    The histories include this bounce.
    """
    belongs = pairs(histories, bounce.findings)
    changes: list[FindingChange] = []
    after = list(histories)
    for place, finding in enumerate(bounce.findings):
        number = belongs.get(place)
        old = None if number is None else histories[number]
        change = _change(old, finding, bounce.number)
        changes.append(change)
        history = FindingHistory(finding, change.first)
        if number is None:
            after.append(history)
        else:
            after[number] = history
    for number, old in enumerate(histories):
        if old.solved is not None or number in belongs.values():
            continue
        gone = bounce.could_see(old.last.key)
        changes.append(_missing(old, gone=gone, number=bounce.number))
        after[number] = FindingHistory(old.last, old.first, bounce.number if gone else None)
    return tuple(changes), tuple(after)


def _change(old: FindingHistory | None, finding: PastFinding, number: int) -> FindingChange:
    first = number if old is None else old.first
    before = None if old is None or old.solved is not None else old.last.excess
    solved = None if old is None else old.solved
    return FindingChange(finding.key, finding.title, state_of(old, finding), before, finding.excess, first, solved)


def _missing(old: FindingHistory, *, gone: bool, number: int) -> FindingChange:
    state: State = "solved" if gone else "not judged"
    return FindingChange(old.last.key, old.last.title, state, old.last.excess, None, old.first, number if gone else None)


def state_of(old: FindingHistory | None, finding: PastFinding) -> State:
    """Return what became of a finding that is there now."""
    if finding.aside:
        return "set aside"
    if old is None:
        return "new"
    if old.solved is not None or old.last.aside:
        return "came back"
    change = finding.excess - old.last.excess
    if abs(change) < EXCESS_STEP:
        return "still there"
    return "worse" if change > 0.0 else "better"


def through(bounces: Iterable[BounceFindings]) -> tuple[FindingHistory, ...]:
    """Return every finding's history after these bounces, in their order."""
    histories: tuple[FindingHistory, ...] = ()
    for bounce in bounces:
        _, histories = follow(histories, bounce)
    return histories


def excess_in(bounce: BounceFindings, key: FindingKey) -> float | None:
    """Return how far a finding lies past its limit.

    None where it is gone.
    """
    return next((finding.excess for finding in bounce.findings if distance(finding.key, key) is not None), None)


def aside_of(key: FindingKey, decisions: Sequence[SetAside]) -> SetAside | None:
    """Return the decision that set this finding aside.

    The nearest of several.
    """
    near = [(apart, decision) for decision in decisions if (apart := distance(decision.key, key)) is not None]
    return min(near, key=lambda candidate: candidate[0], default=(0.0, None))[1]


def stays_aside(key: FindingKey, excess: float, decisions: Sequence[SetAside]) -> bool:
    """Whether a finding, set aside, has not clearly grown since."""
    decision = aside_of(key, decisions)
    return decision is not None and excess <= decision.excess + CLEARLY
