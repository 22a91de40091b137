"""Pumping: what sustains, ducking after each kick."""

from dataclasses import replace

import numpy as np

from features.hits.audibility import HitTrace, worst_windows
from features.hits.dips import after_kicks, dip_of_each, half_recovered_ms, typical_dip
from features.hits.kicks import find_kicks
from features.hits.slopes import rise_after
from features.records.base import Absence, Span
from features.records.hits import Pumping
from features.sound.decibels import FLOOR_DB
from features.sound.measurement import measurement

CLEAR_DB = 1.0
LEAST_ACTIVE = 0.5  # of the kicks must have something sounding around them
WHERE = 3


@measurement
def measure_pumping(trace: HitTrace) -> Pumping:
    """Measure how the sustained part dips after each kick.

    How far and how long, above 250 Hz.
    The level is the median of six octaves, so that a stroke that fills one or two of them does not count, and strokes
    above what is held are cut off before. ``features.hits.dips`` says how the dip is read. Drums that sound on fill it;
    ``features.hits.slopes`` says how what sustains is seen to rise again in spite of them.
    """
    kicks = find_kicks(trace)
    if not len(kicks):
        return _absent("no kick was found")
    level_db = np.log10(np.maximum(trace.high_sustained, np.float32(10.0 ** (FLOOR_DB / 10.0))))  # float32: long songs have many frames
    level_db *= np.float32(10.0)
    curves = after_kicks(level_db, kicks, trace.hop_s)
    usable = np.isfinite(curves.level_db).any(axis=1)
    if np.count_nonzero(usable) < max(LEAST_ACTIVE * len(kicks), 1):
        return _absent("nothing sustains above 250 Hz around the kicks")
    curves = replace(curves, level_db=curves.level_db[usable])
    lowest, depth = typical_dip(curves)
    dips = dip_of_each(curves, lowest)
    recovery = half_recovered_ms(curves, lowest, depth) if depth >= CLEAR_DB else None
    rise = rise_after(trace.slope, trace.starts, kicks.frames, trace.hop_s)
    reasons = (
        (recovery, "recovery_ms", "there is no dip of 1 dB or more that comes back within 450 ms"),
        (rise, "rise_db", "strokes, or silence, fill the time after the kicks"),
    )
    deepest = worst_windows(kicks.times_s[usable], -dips, WHERE) if depth >= CLEAR_DB else ()
    return Pumping(
        depth_db=depth,
        recovery_ms=recovery,
        share_of_kicks=float(np.mean(dips > CLEAR_DB)),
        rise_db=rise,
        where=tuple(Span(window.start_s, window.end_s) for window in deepest if window.value < -CLEAR_DB),
        absent=tuple(Absence(name, reason) for value, name, reason in reasons if value is None),
    )


def _absent(reason: str) -> Pumping:
    names = ("depth_db", "recovery_ms", "share_of_kicks", "rise_db")
    return Pumping(None, None, None, None, (), absent=tuple(Absence(name, reason) for name in names))
