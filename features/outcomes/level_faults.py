"""How levels lie among songs, and which faders are off.

Levels are relative: with the drums too low everything else looks too loud. All elements are therefore judged at once, their common level
free, against what such roles usually have (`features.elements.levels.level_plan.usual_levels`). A method of our own, no published source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.outcomes.likelihood import unlikeliness_nats
from features.outcomes.shrinkage import Candidate, among, expected_faults
from features.records.elements import Element, GroupName

Floats = NDArray[np.float64]

FEWEST = 3
FADER_SPREAD_DB = 9.0  # of faders that lie off; our own calculation on 27 multitracks
BASE_RATE = 0.2  # songs with a fader that lies so far off; the same calculation with a prior of none of 0.8
FAULT_SPREAD_DB = 2.0  # of a fault on every element, for all at once: songs as they are are moved by 0.8 dB in the mean


@dataclass(frozen=True, slots=True)
class Faders:
    """Levels of the elements that can be judged.

    Against what their roles usually have.

    Attributes
    ----------
    names, groups
        Of the elements.
    off_db, spread_db
        Their level in the mix minus the usual one, and its standard deviation between songs, shape ``(n,)``.
    """

    names: tuple[str, ...]
    groups: tuple[GroupName, ...]
    off_db: Floats
    spread_db: Floats

    @property
    def songs(self) -> Floats:
        """Covariance between songs, shape ``(n, n)``."""
        return np.diag(self.spread_db**2)

    @property
    def free(self) -> Floats:
        """The common level, shape ``(n, 1)``."""
        return np.ones((len(self.names), 1))


@dataclass(frozen=True, slots=True)
class FaderFault:
    """One fader, or a group's, that may lie off.

    How far if it does, and the chance that it is this one.
    """

    names: tuple[str, ...]
    off_db: float
    chance: float


@dataclass(frozen=True, slots=True)
class LevelFaults:
    """What the levels say of faders that lie off.

    Attributes
    ----------
    names, expected_db
        The expected fault of each element, all at once, shape ``(n,)``; to be taken off.
    none
        Chance that no fader lies off.
    likeliest
        Single faders and groups, most likely first.
    """

    names: tuple[str, ...]
    expected_db: Floats
    none: float
    likeliest: tuple[FaderFault, ...]


def faders_of(elements: Sequence[Element]) -> Faders | None:
    """Return the levels that can be judged.

    None with fewer than three. Copies and silent elements are left out.
    """
    rows = [
        (element.name, element.group, element.level.in_mix_lu - element.level_plan.usual_lu, element.level_plan.usual_spread_lu)
        for element in elements
        if element.copy_of is None
        and element.level.in_mix_lu is not None
        and element.level_plan.usual_lu is not None
        and element.level_plan.usual_spread_lu is not None
    ]
    if len(rows) < FEWEST:
        return None
    names, groups, off, spread = zip(*rows, strict=True)
    return Faders(names, groups, np.array(off), np.array(spread))


def levels_nats(faders: Faders) -> float:
    """Return how unlikely the levels of all elements are together.

    0 where each lies as its role usually does.
    """
    return unlikeliness_nats(faders.off_db, faders.songs, faders.free)


def units(faders: Faders) -> tuple[tuple[int, ...], ...]:
    """Return what one fader may have moved.

    Every element, and every group of two or more that is not all of them.
    """
    count = len(faders.names)
    groups = [tuple(place for place in range(count) if faders.groups[place] == name) for name in dict.fromkeys(faders.groups)]
    return (*((place,) for place in range(count)), *(group for group in groups if 1 < len(group) < count))


def level_faults(faders: Faders, base_rate: float = BASE_RATE, fault_spread_db: float = FAULT_SPREAD_DB) -> LevelFaults:
    """Return what the levels say of faders that lie off.

    Parameters
    ----------
    faders
        From `faders_of`.
    base_rate
        Share of songs in which one fader, or a group's, lies off.
    fault_spread_db
        For all at once: standard deviation of what every element lies off by fault.
    """
    moved = units(faders)
    rows = [np.isin(np.arange(len(faders.names)), unit).astype(np.float64) for unit in moved]
    candidates = [Candidate(row, FADER_SPREAD_DB, base_rate / len(moved)) for row in rows]
    said = among(faders.off_db, faders.songs, candidates, faders.free)
    faults = fault_spread_db**2 * np.eye(len(faders.names))
    order = np.argsort(-said.chances, kind="stable")
    likeliest = tuple(
        FaderFault(
            tuple(faders.names[place] for place in moved[candidate]), float(said.amounts_db[candidate]), float(said.chances[candidate])
        )
        for candidate in order.tolist()
    )
    return LevelFaults(faders.names, expected_faults(faders.off_db, faders.songs, faults, faders.free), said.none, likeliest)
