"""What uses up the headroom.

How much louder the mix could go with one element a little down, and with it out.

Clean loudness is that of the limiter outlook (`features.limiting.outlook`), so a softer mix is not counted as a quieter one: the limiter
makes its loudness good. It is read on the densest stretch alone, where the limiter stops first.
"""

from collections.abc import Mapping

import numpy as np

from features.limiting.outlook import OutlookGoal, OutlookMeter, limiter_outlook
from features.records.base import Span
from features.records.elements import ElementHeadroom
from features.sound.signal import Samples, Signal

STEP_DB = 1.0


def measure_headroom(
    mix: Signal, parts: Mapping[str, Samples], hit_times_s: tuple[float, ...], target_lufs: float, ceiling_dbtp: float
) -> dict[str, ElementHeadroom]:
    """Return what each element costs in clean loudness.

    Parameters
    ----------
    mix
        The densest stretch of the song.
    parts
        The elements as they stand in it, same length; one or two channels.
    hit_times_s
        Onsets of the mix, from the start of the stretch.
    target_lufs, ceiling_dbtp
        As for the outlook of the song.

    Returns
    -------
    dict
        Per element the LU won with it 1 dB down, and out; None where nothing is left to measure.
    """
    whole = _clean(mix, hit_times_s, target_lufs, ceiling_dbtp)
    costs: dict[str, ElementHeadroom] = {}
    for name, part in parts.items():
        won = []
        for share in (1.0 - 10.0 ** (-STEP_DB / 20.0), 1.0):
            less = Signal(mix.samples - np.float32(share) * part, mix.rate_hz)
            clean = _clean(less, hit_times_s, target_lufs, ceiling_dbtp)
            won.append(None if whole is None or clean is None else clean - whole)
        costs[name] = ElementHeadroom(lu_per_db=won[0], lu_out=won[1])
    return costs


def _clean(sound: Signal, hit_times_s: tuple[float, ...], target_lufs: float, ceiling_dbtp: float) -> float | None:
    meter = OutlookMeter(sound.rate_hz, sound.channels)
    for block in sound.blocks():
        meter.push(block)
    trace = meter.finish()
    peak = float(trace.steps.envelope.max(initial=0.0))
    whole = Span(0.0, sound.duration_s)
    return limiter_outlook(sound, trace, peak, whole, hit_times_s, OutlookGoal(target_lufs, ceiling_dbtp, thorough=False)).clean_lufs
