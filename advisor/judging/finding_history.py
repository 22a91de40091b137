"""Which finding of one bounce is which of the next, and what became of it: pure functions over plain records."""

from collections.abc import Iterable, Sequence
from math import log2

from advisor.app.finding_key import Band, Mark, SetAside
from advisor.judging.finding_records import Became, Looked, Seen, State, Thread
from advisor.judging.reporting import EXCESS_STEP

THIRD_OCTAVE = 1.0 / 3.0
ROUNDING = 0.005  # octaves
CLEARLY = 1.0  # tolerances by which a finding that was set aside must grow to be shown again


def distance(first: Mark, second: Mark) -> float | None:
    """Return how far apart two findings of one kind lie; None when they are two different findings.

    Bands that share more than half of the narrower one are the same, at the octaves between their centres; bands whose centres lie no
    more than a third of an octave apart are the same too, but only where nothing nearer is (1 is added).
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
    """Return which share of the narrower band, in octaves, both have in common."""
    low, high = max(first[0], second[0]), min(first[1], second[1])
    narrower = min(log2(band[1] / band[0]) for band in (first, second))
    if high <= low or narrower <= 0.0:
        return 0.0
    return log2(high / low) / narrower


def pairs(threads: Sequence[Thread], found: Sequence[Seen]) -> dict[int, int]:
    """Return which finding (by place) belongs to which thread (by place): the nearest first, open threads before solved ones."""
    close: list[tuple[float, bool, int, int]] = []
    for place, one in enumerate(found):
        for number, thread in enumerate(threads):
            apart = distance(thread.seen.mark, one.mark)
            if apart is not None:
                close.append((round(apart, 6), thread.solved is not None, place, number))
    taken: dict[int, int] = {}
    for _, _, place, number in sorted(close):
        if place not in taken and number not in taken.values():
            taken[place] = number
    return taken


def follow(threads: Sequence[Thread], bounce: Looked) -> tuple[tuple[Became, ...], tuple[Thread, ...]]:
    """Return what became of every finding in ``bounce``, and the threads with it taken in."""
    belongs = pairs(threads, bounce.findings)
    told: list[Became] = []
    after = list(threads)
    for place, seen in enumerate(bounce.findings):
        number = belongs.get(place)
        old = None if number is None else threads[number]
        first = bounce.number if old is None else old.first
        before = None if old is None or old.solved is not None else old.seen.excess
        solved = None if old is None else old.solved
        told.append(Became(seen.mark, seen.title, state_of(old, seen), before, seen.excess, first, solved))
        thread = Thread(seen, first)
        if number is None:
            after.append(thread)
        else:
            after[number] = thread
    for number, old in enumerate(threads):
        if old.solved is not None or number in belongs.values():
            continue
        gone = bounce.could_see(old.seen.mark)
        told.append(_missing(old, gone=gone, number=bounce.number))
        after[number] = Thread(old.seen, old.first, bounce.number if gone else None)
    return tuple(told), tuple(after)


def _missing(old: Thread, *, gone: bool, number: int) -> Became:
    state: State = "solved" if gone else "not judged"
    return Became(old.seen.mark, old.seen.title, state, old.seen.excess, None, old.first, number if gone else None)


def state_of(old: Thread | None, seen: Seen) -> State:
    """Return what became of a finding that is there now."""
    if seen.aside:
        return "set aside"
    if old is None:
        return "new"
    if old.solved is not None or old.seen.aside:
        return "came back"
    change = seen.excess - old.seen.excess
    if abs(change) < EXCESS_STEP:
        return "still there"
    return "worse" if change > 0.0 else "better"


def through(bounces: Iterable[Looked]) -> tuple[Thread, ...]:
    """Return every finding's thread after all these bounces, in their order."""
    threads: tuple[Thread, ...] = ()
    for bounce in bounces:
        _, threads = follow(threads, bounce)
    return threads


def aside_of(mark: Mark, kept: Sequence[SetAside]) -> SetAside | None:
    """Return the decision that set this finding aside, if there is one; the nearest where several fit."""
    near = [(apart, one) for one in kept if (apart := distance(one.mark, mark)) is not None]
    return min(near, key=lambda each: each[0], default=(0.0, None))[1]


def stays_aside(mark: Mark, excess: float, kept: Sequence[SetAside]) -> bool:
    """Whether a finding was set aside and has not clearly grown since."""
    decision = aside_of(mark, kept)
    return decision is not None and excess <= decision.excess + CLEARLY
