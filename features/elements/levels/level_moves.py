"""Which few faders explain the levels of all elements best.

Levels are relative, so one that lies off makes all others look off.

With the drums too low, everything else is heard better and stands louder against the mix. Each fault is therefore searched for alone:
the fader, or that of a whole group, is taken which, set right, leaves the least for the others; what it hid and what hid it is worked
out again by masking; then the next. What lies off only because of a fader before it is no fault of its own.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import hypot
from typing import get_args

from features.elements.identity import Identity
from features.elements.levels.level_position import FEWEST, Positions, off_db, offs_db
from features.records.elements import GroupName, LevelMove

FAR_DB = 7.5  # elements that nobody has touched differ by 4.5 dB
NEXT_DB = 8.5  # with one told already, the next must say it more clearly
MOST_MOVES = 3
TRIED = 3  # of those that would leave the least if faders changed nothing but their own element
MOST_COUNTED_DB = 15.0  # one that lies further off counts no more: a song may have its reasons
EACH_MORE_DB = 1.0  # of a group: with as little left by either, the fewer faders
ALONG = 0.4  # of what a group lies off, each of its elements must lie off too

Gains = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the elements stand with the faders moved."""

    positions: Positions
    playing_lu: tuple[float | None, ...]
    shares: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Moves:
    """The moves, and where the elements stand without them.

    The furthest off first.
    """

    moves: tuple[LevelMove, ...]
    offs_db: tuple[float | None, ...]
    then: Stand


def left_db(positions: Positions) -> float:
    """Return how much is left to explain.

    The root of the sum of squares of how far all lie off.

    Examples
    --------
    >>> [round(left_db((off, 0.0, 0.0)), 1) for off in (0.0, 3.0, 6.0)]
    [0.0, 3.4, 6.8]
    """
    return hypot(*(min(abs(off), MOST_COUNTED_DB) for off in offs_db(positions) if off is not None))


def units(identities: Sequence[Identity], positions: Positions) -> list[tuple[int, ...]]:
    """Return what may have been moved by one fader.

    Each element that has a position, and each group of two or more of these.
    """
    known = [number for number, position in enumerate(positions) if position is not None]
    groups = [tuple(number for number in known if identities[number].group == name) for name in get_args(GroupName)]
    return [*((number,) for number in known), *(group for group in groups if 1 < len(group) < len(known))]


def _together(unit: tuple[int, ...], positions: Positions, far_db: float) -> bool:
    """Tell whether all of a group lie off the same way, and far enough to be moved as one."""
    rest = [off for number, off in enumerate(positions) if number not in unit]
    offs = [off_db((0,), (positions[number], *rest)) for number in unit]
    return len(unit) == 1 or all(off is not None and off * far_db > 0.0 and abs(off) >= ALONG * abs(far_db) for off in offs)


def _candidates(identities: Sequence[Identity], first: Positions, now: Positions, least_db: float) -> list[tuple[float, tuple[int, ...]]]:
    """Return what lies off now and did from the start, the same way, each with how far now."""
    candidates = []
    for unit in units(identities, now):
        here, there = off_db(unit, now), off_db(unit, first)
        if here is None or there is None or here * there <= 0.0 or min(abs(here), abs(there)) <= least_db:
            continue
        if _together(unit, now, here):
            candidates.append((here, unit))
    return candidates


def _cost(positions: Positions, unit: tuple[int, ...]) -> float:
    """Return what speaks against a move: what is left to explain after it, and how many elements it is about."""
    return left_db(positions) + EACH_MORE_DB * len(unit)


def _after(unit: tuple[int, ...], far_db: float, positions: Positions) -> Positions:
    """Return the positions if setting a fader right changed nothing but its own elements."""
    return tuple(position if position is None or number not in unit else position - far_db for number, position in enumerate(positions))


def _moved(gains: Gains, unit: tuple[int, ...], by_db: float) -> Gains:
    return tuple(gain + by_db if number in unit else gain for number, gain in enumerate(gains))


def find_moves(identities: Sequence[Identity], at: Callable[[Gains], Stand]) -> Moves:
    """Return the few faders that explain all levels best.

    Parameters
    ----------
    identities
        Of the elements.
    at
        Where they stand with the faders moved by gains in dB, one for each element.

    Returns
    -------
    Moves
        At most three; none where no element and no group lies 7.5 dB off. ``offs_db`` has for those how far they lie off, and for each
        other the lesser of what it lies off as it is and what it lies off with these set right; 0 where one is above and one below.
    """
    gains: Gains = (0.0,) * len(identities)
    first = now = at(gains)
    moves: list[tuple[float, tuple[int, ...]]] = []
    while len(moves) < MOST_MOVES and sum(position is not None for position in first.positions) >= FEWEST:
        done = {number for _, unit in moves for number in unit}
        least_db = NEXT_DB if moves else FAR_DB
        open_ = [
            candidate for candidate in _candidates(identities, first.positions, now.positions, least_db) if not done & set(candidate[1])
        ]
        if not open_:
            break
        here = now.positions
        open_.sort(key=lambda candidate: _cost(_after(candidate[1], candidate[0], here), candidate[1]))
        tried = [(at(_moved(gains, unit, -far_db)), far_db, unit) for far_db, unit in open_[:TRIED]]
        now, far_db, unit = min(tried, key=lambda candidate: _cost(candidate[0].positions, candidate[2]))
        gains = _moved(gains, unit, -far_db)
        moves.append((far_db, unit))
    return Moves(tuple(_move(identities, *candidate) for candidate in moves), _offs(first, now, moves), now)


def _move(identities: Sequence[Identity], far_db: float, unit: tuple[int, ...]) -> LevelMove:
    names = tuple(identities[number].name for number in unit)
    return LevelMove(names, identities[unit[0]].group if len(unit) > 1 else None, far_db)


def _offs(first: Stand, now: Stand, moves: Sequence[tuple[float, tuple[int, ...]]]) -> tuple[float | None, ...]:
    moved = {number: far_db for far_db, unit in moves for number in unit}
    offs: list[float | None] = []
    for number, pair in enumerate(zip(offs_db(first.positions), offs_db(now.positions), strict=True)):
        before, after = pair
        if before is None or after is None:
            offs.append(None)
        else:
            lesser = min(before, after, key=abs) if before * after > 0.0 else 0.0
            offs.append(moved.get(number, lesser))
    return tuple(offs)
