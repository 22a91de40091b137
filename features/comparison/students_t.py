"""How unlikely a distance is among songs.

The distribution has heavier tails than the normal one.
"""

import numpy as np
from numpy.typing import NDArray

from features.comparison.moderated_statistics import FREEDOM

Floats = NDArray[np.float64]


def student_nats(squares: Floats, dimensions: int) -> Floats:
    """Return how unlikely squared distances are, in nats.

    Parameters
    ----------
    squares
        Squared distances from the middle, in units of the spread.
    dimensions
        Of what they are distances in.

    Notes
    -----
    Log of the density of a multivariate Student's t against that in its middle: ``(v + n) / 2 ln(1 + D^2 / v)``, ``v`` being 8.

    Examples
    --------
    >>> student_nats(np.array([0.0, 4.0]), 1).round(2).tolist()
    [0.0, 1.82]
    """
    nats: Floats = 0.5 * (FREEDOM + dimensions) * np.log1p(squares / FREEDOM)
    return nats
