"""How large a fault is, given a reading.

Drawn towards nothing by how much songs differ and by how large faults usually are.

A reading is the song's own character plus, perhaps, a fault: ``d = s + f``. Songs differ by ``s ~ N(0, N)``; a fault, where there is one,
is ``f ~ N(0, F)``. What is far off is then mostly the song where songs differ much, and mostly a fault where they hardly do (normal theory:
Lindley and Smith 1972; recalled). All values are in dB unless said otherwise; every function is a formula without state.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import erf, exp, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from features.tone.matched_filter import precision_of

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Posterior:
    """What a single reading says of a fault.

    Attributes
    ----------
    chance
        That there is a fault at all, 0-1.
    expected_db
        The fault's expected size: 0 where there is none, weighed with the chance.
    if_any_db, spread_db
        Its expected size, and standard deviation, if there is one.
    """

    chance: float
    expected_db: float
    if_any_db: float
    spread_db: float


def posterior(deviation_db: float, song_spread_db: float, fault_spread_db: float, base_rate: float = 1.0) -> Posterior:
    """Return what a deviation says of a fault.

    A deviation from what songs usually have.

    Parameters
    ----------
    deviation_db
        The reading minus what such songs have.
    song_spread_db, fault_spread_db
        Standard deviation of that between songs without a fault, and of the faults.
    base_rate
        Share of songs that have such a fault, 0-1; 1 takes it as given that there is one.

    Notes
    -----
    ``E[f | d, fault] = d F / (F + N)``; the chance is Bayes' rule for the densities of ``d`` with and without a fault.

    Examples
    --------
    >>> round(posterior(9.0, 6.4, 6.0).expected_db, 2)  # 9 dB off where songs differ by 6.4 dB is mostly the song
    4.21
    """
    songs, faults = song_spread_db**2, fault_spread_db**2
    share = faults / (faults + songs) if faults > 0.0 else 0.0
    log_ratio = 0.5 * (np.log1p(-share) + share * deviation_db**2 / songs)
    chance = _chance(float(log_ratio), base_rate)
    expected = share * deviation_db
    return Posterior(chance, chance * expected, expected, float(np.sqrt(share * songs)))


def _chance(log_ratio: float, base_rate: float) -> float:
    """Return Bayes' rule: the chance of a fault from the log of the densities' ratio and the base rate."""
    if base_rate in {0.0, 1.0}:
        return base_rate
    odds = float(np.log(base_rate / (1.0 - base_rate))) + log_ratio
    return float(1.0 / (1.0 + np.exp(-np.clip(odds, -700.0, 700.0))))


def expected_faults(deviation_db: Floats, songs: Floats, faults: Floats, free: Floats | None = None) -> Floats:
    """Return the expected faults of all readings at once.

    In every band or element: ``F (F + N)^-1 d``, shape ``(n,)``.

    Parameters
    ----------
    deviation_db
        Readings minus what such songs have, shape ``(n,)``.
    songs, faults
        Covariance between songs without a fault, and of the faults, shape ``(n, n)``.
    free
        What may differ freely and says nothing, as columns, shape ``(n, k)``; level, for instance. None: nothing.

    Examples
    --------
    >>> expected_faults(np.array([9.0, 0.0]), np.diag([36.0, 36.0]), np.diag([36.0, 0.0])).tolist()
    [4.5, 0.0]
    """
    expected: Floats = faults @ (_precision(songs + faults, free) @ deviation_db)
    return expected


def chance_of_any(deviation_db: Floats, songs: Floats, faults: Floats, base_rate: float, free: Floats | None = None) -> float:
    """Return the chance that any reading holds a fault.

    Arguments as in `expected_faults`.

    ``free`` directions are integrated out (restricted likelihood), so that a fader on the whole song changes nothing.
    """
    log_ratio = _log_density(deviation_db, songs + faults, free) - _log_density(deviation_db, songs, free)
    return _chance(log_ratio, base_rate)


def _precision(covariance: Floats, free: Floats | None) -> Floats:
    return precision_of(covariance, np.zeros((len(covariance), 0)) if free is None else free)


def _log_density(deviation_db: Floats, covariance: Floats, free: Floats | None) -> float:
    """Return the log of a normal density, free directions integrated out, up to a constant."""
    size = float(np.linalg.slogdet(covariance)[1])
    if free is not None:
        size += float(np.linalg.slogdet(free.T @ np.linalg.solve(covariance, free))[1])
    return -0.5 * (size + float(deviation_db @ _precision(covariance, free) @ deviation_db))


@dataclass(frozen=True, slots=True)
class Candidate:
    """A fault that a row of readings may hold.

    What a dB of it does to each, how large it usually is, and how often it comes.

    ``sign`` is the sign its amount must have; 0 for either.
    """

    per_db: Floats
    spread_db: float
    base_rate: float
    sign: int = 0


@dataclass(frozen=True, slots=True)
class Among:
    """What readings say of several possible faults.

    Of which at most one is there.

    Attributes
    ----------
    none
        Chance that none is.
    chances, amounts_db
        Of each candidate: the chance that it is the fault, and its expected size if it is, shape ``(k,)``.
    expected_db
        The expected fault in every band or element, shape ``(n,)``.
    """

    none: float
    chances: Floats
    amounts_db: Floats
    expected_db: Floats


def among(deviation_db: Floats, songs: Floats, candidates: Sequence[Candidate], free: Floats | None = None) -> Among:
    """Return what a row of readings says of several candidates.

    What their base rates leave of 1 is that of no fault.

    Notes
    -----
    With ``P`` the songs' precision, free directions projected out, a candidate ``t`` has the gain ``g = t'Pd / t'Pt`` and its variance
    ``v = 1 / t'Pt``; its expected size is ``g F / (F + v)``, and its density over that of no fault is
    ``sqrt(v / (v + F)) exp(g^2 F / (2 v (v + F)))``. Where only one sign can be, the prior is the half of a normal distribution, and both
    are those of what is left of it.

    Raises
    ------
    ValueError
        When the base rates add up to more than 1.
    """
    rates = np.array([candidate.base_rate for candidate in candidates])
    none = 1.0 - float(rates.sum())
    if none < -1e-9:
        raise ValueError(f"the base rates of the candidates add up to {rates.sum():.3f}, which is more than 1")
    shapes = np.array([candidate.per_db for candidate in candidates])
    faults = np.array([candidate.spread_db for candidate in candidates]) ** 2
    weights = shapes @ _precision(songs, free)
    information = np.maximum(np.sum(weights * shapes, axis=1), 1e-12)
    gains, variances = weights @ deviation_db / information, 1.0 / information
    share = faults / (faults + variances)
    log_weights = np.concatenate(([0.0], 0.5 * (np.log1p(-share) + share * gains**2 / variances)))
    amounts, sides = _one_sided(share * gains, np.sqrt(share * variances), [candidate.sign for candidate in candidates])
    log_weights[1:] += np.log(np.maximum(sides, 1e-300))
    log_weights += np.log(np.maximum(np.concatenate(([none], rates)), 1e-300))
    chances = np.exp(log_weights - log_weights.max())
    chances /= chances.sum()
    return Among(float(chances[0]), chances[1:], amounts, (chances[1:] * amounts) @ shapes)


def _one_sided(means: Floats, spreads: Floats, signs: Sequence[int]) -> tuple[Floats, Floats]:
    """Return the means of normal distributions of which one side is left, and twice the share of it; where any sign may be, as they are."""
    amounts, sides = means.copy(), np.ones(len(means))
    for place, sign in enumerate(signs):
        if sign:
            ratio = sign * means[place] / spreads[place]
            left = max(0.5 * (1.0 + erf(ratio / sqrt(2.0))), 1e-12)
            sides[place] = 2.0 * left
            amounts[place] += sign * spreads[place] * exp(-0.5 * ratio * ratio) / sqrt(2.0 * pi) / left
    return amounts, sides


def no_more_than(amount_db: float, excess_db: float) -> float:
    """Return an amount limited to what lies past the ordinary.

    It never goes the other way.

    Examples
    --------
    >>> no_more_than(4.2, 3.0), no_more_than(-4.2, -6.0), no_more_than(4.2, -1.0)
    (3.0, -4.2, 0.0)
    """
    if amount_db * excess_db <= 0.0:
        return 0.0
    return min(amount_db, excess_db) if amount_db > 0.0 else max(amount_db, excess_db)
