"""How large a fault is, given a reading.

Drawn towards nothing by how much songs differ and by how large faults usually are.

A reading is the song's own character plus, perhaps, a fault: ``d = s + f``. Songs differ by ``s ~ N(0, N)``; a fault, where there is one,
is ``f ~ N(0, F)``. What is far off is then mostly the song where songs differ much, and mostly a fault where they hardly do (normal theory:
Lindley and Smith 1972; recalled). All values are in dB unless said otherwise; every function is a formula without state.
"""

import numpy as np
from numpy.typing import NDArray

from features.tone.matched_filter import precision_of

Floats = NDArray[np.float64]


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


def _precision(covariance: Floats, free: Floats | None) -> Floats:
    return precision_of(covariance, np.zeros((len(covariance), 0)) if free is None else free)


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
