"""How likely a song is among others.

Smooth, without a limit at which anything jumps.
"""

import numpy as np
from numpy.typing import NDArray

from features.comparison.students_t import student_nats
from features.tone.matched_filter import precision_of

Floats = NDArray[np.float64]


def unlikeliness_nats(deviation: Floats, covariance: Floats, free: Floats) -> float:
    """Return how much less likely a song is than usual.

    As the log of the ratio of densities; 0 in the middle of the songs.

    Parameters
    ----------
    deviation
        The song's readings minus the middle, shape ``(n,)``.
    covariance
        How songs differ, moderated where they are few, shape ``(n, n)``.
    free
        Directions in which a song may differ freely, shape ``(n, k)``.

    Notes
    -----
    Multivariate Student's t with 8 degrees of freedom, since songs have heavier tails than a normal distribution
    (docs/references.md): ``(v + n - k) / 2 ln(1 + D^2 / v)``, ``D^2 = d' P d`` with the free directions projected out of ``P``.

    Examples
    --------
    >>> level = np.ones((2, 1))
    >>> unlikeliness_nats(np.array([3.0, 3.0]), np.eye(2), level)  # level is free
    0.0
    """
    square = max(float(deviation @ precision_of(covariance, free) @ deviation), 0.0)
    return float(student_nats(np.array([square]), len(deviation) - free.shape[1])[0])
