"""How much of each promised tone change was made.

Read off the difference of two long-term spectra.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ROUNDS = 12
LEAST_SPREAD_DB = 0.15  # what two bounces of one session may differ by
OUTLIER = 4.0  # spreads: what lies further off is another change and counts for nothing
ALIKE = 0.08  # moves whose curves agree more than this leaves open share what was found
TOGETHER = 3.0  # neighbouring third octaves move together: so many count as one
WORKS = 0.2  # of its deepest point: a move works where its curve reaches that
CORE = 0.6  # and what changed where it works most counts, whatever the shape: a narrower cut mends the same
REACH_THIRDS = 4.0  # how far beyond, in third octaves, a neighbour serves as the level it is compared with


def shares(change_db: Floats, curves_db: Sequence[Floats]) -> list[tuple[float, float]]:
    """Return each curve's share of the change, with its error.

    The error is the standard error of that share.

    Fits ``change = level + sum(share * curve)`` in the neighbourhood of each curve by least squares with Tukey's biweight, so that
    places where something else was changed do not count; level is matched by the fit. All have the same third octaves.
    """
    return [_share(change_db, curves_db, number) for number in range(len(curves_db))]


def _share(change_db: Floats, curves_db: Sequence[Floats], number: int) -> tuple[float, float]:
    matrix = np.stack([np.ones_like(change_db), *curves_db], axis=1)
    size = np.sqrt((matrix * matrix).mean(axis=0))
    size[size == 0.0] = 1.0
    scaled = matrix / size
    near = _near(curves_db[number])
    core = np.abs(curves_db[number]) >= CORE * np.abs(curves_db[number]).max()
    weight = near * _unmoved(change_db, curves_db, near)
    for _ in range(ROUNDS):
        root = np.sqrt(weight)
        fit = np.linalg.lstsq(scaled * root[:, None], change_db * root, rcond=ALIKE)[0]
        rest = change_db - scaled @ fit
        spread = max(1.4826 * float(np.median(np.abs(rest[near > 0.3]))), LEAST_SPREAD_DB)
        weight = near * np.maximum(np.maximum(1.0 - (rest / (OUTLIER * spread)) ** 2, 0.0) ** 2, core)
    error = _error(scaled, weight, rest, number + 1)
    # Places in which the move works but which the fit had to leave out make its share unsure.
    power = curves_db[number] ** 2 * near
    lost = 1.0 - float((power * np.minimum(weight, 1.0)).sum() / power.sum()) if power.sum() > 0.0 else 1.0
    return float(fit[number + 1] / size[number + 1]), error / float(size[number + 1]) + 0.5 * lost


def _near(curve_db: Floats) -> Floats:
    """Return how much each third octave counts for this move.

    All where it works, less and less beyond.
    """
    works = np.flatnonzero(np.abs(curve_db) >= WORKS * np.abs(curve_db).max())
    away = np.min(np.abs(np.arange(len(curve_db))[:, None] - works[None, :]), axis=1)
    return np.asarray(np.exp(-((away / REACH_THIRDS) ** 2)))


def _unmoved(change_db: Floats, curves_db: Sequence[Floats], near: Floats) -> Floats:
    """Return the weights that the fit starts from.

    All where moves work, and elsewhere the more the nearer to the usual change there.
    """
    works = np.max(np.abs(np.stack(curves_db)), axis=0)
    idle = (works < WORKS * works.max()) & (near > 0.1)
    if not idle.any():
        return np.ones_like(change_db)
    away = np.abs(change_db - float(np.median(change_db[idle])))
    usual = max(float(np.median(away[idle])), LEAST_SPREAD_DB)
    return np.where(works < WORKS * works.max(), 1.0 / (1.0 + (away / (2.0 * usual)) ** 2), 1.0)


def _error(scaled: Floats, weight: Floats, rest: Floats, column: int) -> float:
    count = max(float(weight.sum()) / TOGETHER - scaled.shape[1], 1.0)
    variance = float(np.sum(weight * rest * rest)) / TOGETHER / count + LEAST_SPREAD_DB**2
    inner = np.linalg.pinv((scaled * weight[:, None]).T @ scaled / TOGETHER, rcond=ALIKE**2)
    return float(np.sqrt(max(variance * inner[column, column], 0.0)))
