"""The readings of damage by a limiter, and their limits.

From its limit on, each is heard.
"""

from collections.abc import Mapping

MOST_DISTORTION_DB = 1.5  # ITU-R BS.1387: a frame whose worst band passes 1.5 dB is heard as disturbed
MOST_PUMPING_DB = 1.0  # about the smallest change of level heard in music; common practice, no published source
MOST_HIT_LOSS_DB = 3.0  # half the power of the attack; common practice, no published source
LEAST_DENSITY = 0.5  # LU per dB; common practice, no published source


def damage_shares(distortion_nmr_db: float, pumping_db: float, hit_loss_db: float, density: float) -> Mapping[str, float]:
    """Return how much of its limit each reading uses up.

    From 1 on it is heard.

    Examples
    --------
    >>> damage_shares(MOST_DISTORTION_DB, 0.5, 1.5, 1.0)
    {'distortion': 1.0, 'pumping': 0.5, 'hits': 0.5, 'density': 0.0}
    """
    return {
        "distortion": float(10.0 ** ((distortion_nmr_db - MOST_DISTORTION_DB) / 20.0)),
        "pumping": pumping_db / MOST_PUMPING_DB,
        "hits": hit_loss_db / MOST_HIT_LOSS_DB,
        "density": min(max((1.0 - density) / (1.0 - LEAST_DENSITY), 0.0), 2.0),
    }
