"""Curve and timing of a remedy that compresses."""

from advisor.remedies.usual_settings import ATTACK_MS, KNEE_DB, RATIO, RELEASE_MS, given, needed_threshold_dbfs
from features.processors.dynamics.compressor import Curve, Timing
from rules.remedy import Remedy


def curve_of(remedy: Remedy) -> Curve:
    """Return the compressor's curve. Raises `ValueError` without a threshold."""
    return Curve(needed_threshold_dbfs(remedy), remedy.ratio or RATIO, given(remedy.knee_db, KNEE_DB))


def timing_of(remedy: Remedy) -> Timing:
    """Return the compressor's attack and release in ms."""
    return Timing(given(remedy.attack_ms, ATTACK_MS), given(remedy.release_ms, RELEASE_MS))
