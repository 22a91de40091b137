"""Which faders lie off, how far, and with what chance.

Levels are relative: with the drums too low everything else looks too loud. All elements are therefore judged at once, their common level
free. Each element, or each group as one, may lie off by any amount; how well that explains where all of them stand, and how large such
faults usually are, gives every fader a chance and an expected size (Bayes' rule). A method of our own, no published source.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from features.comparison.students_t import student_nats
from features.elements.identity import Identity
from features.elements.levels.level_position import FEWEST, Positions, offs_db
from features.records.elements import GroupName, LevelMove

Floats = NDArray[np.float64]
Gains = tuple[float, ...]

SONG_SCALE_DB = 4.0  # elements that nobody has touched differ by 4.6 dB (standard deviation), with heavy tails
FADER_SPREAD_DB = 9.0  # of faders that lie off
BASE_RATE = 0.75  # songs in which any does; half of it for single faders, half for groups
AMOUNTS_DB = np.concatenate((np.arange(-16.0, 0.0), np.arange(1.0, 17.0)))
LEAST_CHANCE = 0.3  # what is less likely is not told
LEAST_DB = 1.0  # nor what is expected to lie off by less
MOST_MOVES = 4


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the elements stand with the faders moved."""

    positions: Positions
    playing_lu: tuple[float | None, ...]
    shares: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Moves:
    """The moves, and where the elements stand without them.

    The likeliest first.
    """

    moves: tuple[LevelMove, ...]
    offs_db: tuple[float | None, ...]
    then: Stand


@dataclass(frozen=True, slots=True)
class Posterior:
    """What the positions say of every element and unit.

    Attributes
    ----------
    expected_db
        Mean of the fault of each element, weighed with its chance, shape ``(n,)``.
    chances
        That an element lies off to the side of its mean, shape ``(n,)``.
    units, unit_chances
        What one fader may have moved, as rows of elements, and the chance that it was this one.
    """

    expected_db: Floats
    chances: Floats
    units: tuple[tuple[int, ...], ...]
    unit_chances: Floats


def levels_nats(positions: Positions) -> float | None:
    """Return how unlikely the positions of all elements are together.

    0 where they stand as such elements usually do; the common level is free. None with fewer than three.

    Examples
    --------
    >>> levels_nats((3.0, 3.0, 3.0))
    0.0
    """
    known = np.array([position for position in positions if position is not None])
    return None if len(known) < FEWEST else float(_nats(known[None])[0])


def _nats(rows: Floats) -> Floats:
    """Return how unlikely each row of positions is; the common level is free."""
    away: Floats = rows - rows.mean(axis=1, keepdims=True)
    return student_nats(np.sum(away**2, axis=1) / SONG_SCALE_DB**2, rows.shape[1] - 1)


def units_of(groups: Sequence[GroupName], known: Sequence[int]) -> tuple[tuple[int, ...], ...]:
    """Return what one fader may have moved.

    Each element that has a position, and each group of two or more of these that is not all of them.
    """
    together = [tuple(number for number in known if groups[number] == name) for name in get_args(GroupName)]
    return (*((number,) for number in known), *(unit for unit in together if 1 < len(unit) < len(known)))


def posterior(groups: Sequence[GroupName], positions: Positions) -> Posterior:
    """Return what all elements' positions say of faders.

    Of those that lie off.

    Parameters
    ----------
    groups, positions
        Of the elements; at least three of them with a position.
    """
    known = [number for number, position in enumerate(positions) if position is not None]
    units = units_of(groups, known)
    rows = np.array([[float(number in unit) for number in range(len(positions))] for unit in units])
    faults = np.concatenate((np.zeros((1, len(positions))), np.kron(rows, AMOUNTS_DB[:, None])))
    stand = np.array([positions[number] or 0.0 for number in known]) - faults[:, known]
    weights = _log_prior(units) - _nats(stand)
    weights = np.exp(weights - weights.max())
    weights /= weights.sum()
    expected = weights @ faults
    chances = weights @ ((faults != 0.0) & (np.sign(faults) == np.sign(expected)))
    return Posterior(expected, chances, units, weights[1:].reshape(len(units), -1).sum(axis=1))


def _log_prior(units: Sequence[tuple[int, ...]]) -> Floats:
    """Return the log of the chance of no fault, and of every unit and amount before anything was measured."""
    singles = sum(len(unit) == 1 for unit in units)
    groups = len(units) - singles
    shares = [BASE_RATE * (0.5 / (singles if len(unit) == 1 else groups) if groups else 1.0 / singles) for unit in units]
    sizes = np.exp(-0.5 * (AMOUNTS_DB / FADER_SPREAD_DB) ** 2)
    prior: Floats = np.log(np.concatenate(([1.0 - BASE_RATE], np.outer(shares, sizes / sizes.sum()).ravel())))
    return prior


def likely(said: Posterior) -> list[tuple[tuple[int, ...], float, float]]:
    """Return the units that likely lie off.

    Each with its expected fault and its chance, the likeliest first.
    No element is in two of them; a group is one only where all its elements lie off the same way.
    """
    chosen: list[tuple[tuple[int, ...], float, float]] = []
    for place in np.argsort(-said.unit_chances, kind="stable").tolist():
        unit = said.units[place]
        expected, chance = said.expected_db[list(unit)], float(said.chances[list(unit)].min())
        apart = any(before * after <= 0.0 for before, after in pairwise(expected))
        taken = any(number in other for other, _, _ in chosen for number in unit)
        if not taken and not apart and chance >= LEAST_CHANCE and abs(expected.mean()) >= LEAST_DB:
            chosen.append((unit, float(expected.mean()), chance))
    return chosen[:MOST_MOVES]


def find_moves(identities: Sequence[Identity], at: Callable[[Gains], Stand]) -> Moves:
    """Return the faders that likely lie off.

    Parameters
    ----------
    identities
        Of the elements.
    at
        Where they stand with the faders moved by gains in dB, one for each element.

    Returns
    -------
    Moves
        At most four, often none. ``offs_db`` has for those how far they lie off if they do, and for each other the lesser of what it
        lies off as it is and what it lies off with these set right; 0 where one is above and one below.
    """
    gains = [0.0] * len(identities)
    first = at(tuple(gains))
    if sum(position is not None for position in first.positions) < FEWEST:
        return Moves((), offs_db(first.positions), first)
    chosen = likely(posterior([identity.group for identity in identities], first.positions))
    for unit, expected_db, _ in chosen:
        for number in unit:
            gains[number] = -expected_db
    now = at(tuple(gains)) if chosen else first
    moves = tuple(_move(identities, *candidate) for candidate in chosen)
    return Moves(moves, _offs(identities, first, now, moves), now)


def _move(identities: Sequence[Identity], unit: tuple[int, ...], expected_db: float, chance: float) -> LevelMove:
    names = tuple(identities[number].name for number in unit)
    group = identities[unit[0]].group if len(unit) > 1 else None
    return LevelMove(names, group, expected_db / chance, expected_db, chance)


def _offs(identities: Sequence[Identity], first: Stand, now: Stand, moves: Sequence[LevelMove]) -> tuple[float | None, ...]:
    moved = {name: move.off_db for move in moves for name in move.names}
    offs: list[float | None] = []
    for identity, before, after in zip(identities, offs_db(first.positions), offs_db(now.positions), strict=True):
        if before is None or after is None:
            offs.append(None)
        else:
            lesser = min(before, after, key=abs) if before * after > 0.0 else 0.0
            offs.append(moved.get(identity.name, lesser))
    return tuple(offs)
