"""What remedies touch beside their finding.

Topics, and bands for an equaliser.
"""

from math import log2

from advisor.remedies.kind import Band, Touches
from rules.base import Topic
from rules.remedy import Remedy

NEAR_OCTAVES = 1.0


def everywhere(*topics: Topic) -> Touches:
    """Return that a kind may change anything about these topics."""
    return Touches(frozenset(topics), lambda _remedy, _band_hz: True)


def _tone(*, down: bool, up: bool) -> Touches:
    """Return that an equaliser may change what lies near its frequency, and all below or above it."""

    def reach(remedy: Remedy, band_hz: Band | None) -> bool:
        if remedy.frequency_hz is None:
            return False
        if band_hz is None:
            return True
        low, high = log2(band_hz[0]) - NEAR_OCTAVES, log2(band_hz[1]) + NEAR_OCTAVES
        place = log2(remedy.frequency_hz)
        return (down or place <= high) and (up or low <= place)

    return Touches(frozenset({"tone", "low-end", "masking"}), reach)


NEARBY = _tone(down=False, up=False)
BELOW = _tone(down=True, up=False)
ABOVE = _tone(down=False, up=True)
