"""Readings beside their limits.

How far past, or why not judged.
"""

from features.records.base import Measurement
from rules.base import NotApplicable

MOST_EXCESS = 4.0


def missing(record: Measurement, field: str) -> NotApplicable:
    """Return that a reading was missing, with the record's reason.

    The rule cannot judge because ``field`` was not measured.
    """
    reasons = (absence.reason for absence in record.absent if absence.field == field)
    return NotApplicable(next(reasons, f"{field} could not be measured"))


def past(reading: float, limit: float, tolerance: float) -> float:
    """Return how far a reading lies above its limit.

    In tolerances, from 0 to 4; negate both for a lower limit.

    >>> past(7.0, 4.0, 2.0), past(3.0, 4.0, 2.0), past(-7.0, -8.0, 0.5)
    (1.5, 0.0, 2.0)
    """
    return min(max((reading - limit) / tolerance, 0.0), MOST_EXCESS)


def within(value: float, low: float, high: float) -> float:
    """Return the value, kept between ``low`` and ``high``."""
    return min(max(value, low), high)
