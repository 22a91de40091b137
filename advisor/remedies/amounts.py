"""What the amount of a remedy scales.

Its gain, its threshold or its ceiling.
"""

from dataclasses import replace
from math import copysign

from advisor.remedies.kind import Amount
from advisor.remedies.parts import PARTS_OF_A_MIX
from rules.remedy import Remedy

FACTORS = (1.0, 0.5)  # amounts tried, as multiples of what was proposed: never more than the evidence carries
THRESHOLD_STEP_DB = 3.0
FADER_STEP_DB = 0.5  # as finely as a fader is set
MOST_FADER_DB = 6.0  # of an element or a group at once; then one listens


def strength(remedy: Remedy) -> float:
    """Return a remedy's strength among others of its kind."""
    if remedy.gain_db is not None:
        return abs(remedy.gain_db)
    for level_dbfs in (remedy.threshold_dbfs, remedy.ceiling_dbfs):
        if level_dbfs is not None:
            return -level_dbfs
    return 0.0


def _scaled_gain(remedy: Remedy, factor: float) -> Remedy:
    return remedy if remedy.gain_db is None else replace(remedy, gain_db=round(remedy.gain_db * factor, 1))


def _scaled_fader(remedy: Remedy, factor: float) -> Remedy:
    """Return the fader scaled, an element's in half decibels and by no more than is sensible at once."""
    gain_db = remedy.gain_db
    if gain_db is None or factor == 1.0 or remedy.part in PARTS_OF_A_MIX:
        return _scaled_gain(remedy, factor)
    least_db, most_db = min(FADER_STEP_DB, abs(gain_db)), max(MOST_FADER_DB, abs(gain_db))
    size_db = min(max(round(abs(gain_db * factor) / FADER_STEP_DB) * FADER_STEP_DB, least_db), most_db)
    return replace(remedy, gain_db=copysign(size_db, gain_db))


def _moved_levels(remedy: Remedy, factor: float) -> Remedy:
    """Return threshold and ceiling moved by 3 dB for each doubling, down for more."""
    shift = -THRESHOLD_STEP_DB * (factor - 1.0)
    return replace(
        remedy,
        threshold_dbfs=None if remedy.threshold_dbfs is None else round(remedy.threshold_dbfs + shift, 1),
        ceiling_dbfs=None if remedy.ceiling_dbfs is None else round(remedy.ceiling_dbfs + shift, 1),
    )


def _moved_or_dipped(remedy: Remedy, factor: float) -> Remedy:
    """Return the threshold moved, or under a key, which has none, the dip scaled."""
    return _moved_levels(remedy, factor) if remedy.key is None else _scaled_gain(remedy, factor)


FADER = Amount(_scaled_fader, FACTORS)
GAIN = Amount(_scaled_gain, FACTORS)
THRESHOLD = Amount(_moved_or_dipped, FACTORS)
CEILING = Amount(_moved_or_dipped, FACTORS)
FIXED = Amount(lambda remedy, _factor: remedy, (1.0,))
