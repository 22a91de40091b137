"""Usual settings, for what a remedy leaves open.

Its process and its sentence cannot differ.
"""

from rules.remedy import Remedy

RATIO = 2.0
BAND_RATIO = 4.0  # of a dynamic equaliser
ATTACK_MS = 30.0
RELEASE_MS = 100.0
KNEE_DB = 6.0
BLEND_DB = -10.0
BELL_Q = 1.0
SHELF_Q = 0.5**0.5  # no bump on either side
PASS_ORDER = 2


def given(setting: float | None, usual: float) -> float:
    """Return the setting, or the usual one where left open."""
    return usual if setting is None else setting


def needed_frequency_hz(remedy: Remedy) -> float:
    """Return the remedy's frequency. Raises `ValueError` without one."""
    if remedy.frequency_hz is None:
        raise ValueError(f"a remedy of kind {remedy.kind} needs a frequency")
    return remedy.frequency_hz


def needed_threshold_dbfs(remedy: Remedy) -> float:
    """Return the remedy's threshold. Raises `ValueError` without one."""
    if remedy.threshold_dbfs is None:
        raise ValueError(f"a remedy of kind {remedy.kind} needs a threshold")
    return remedy.threshold_dbfs
