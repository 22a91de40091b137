"""How loud and where in the song elements play."""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from features.elements.meter import ElementTrace
from features.elements.steps import CURVE_FRAMES, STEP_S
from features.loudness.gating import energy_at, gated_loudness, sliding_means
from features.records.base import Span
from features.records.elements import ElementLevel
from features.sound.bands import third_octaves
from features.sound.decibels import amplitude_to_db, power_to_db, powers_to_db

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

WINDOW_STEPS = 4  # 400 ms, every 100 ms, as in ITU-R BS.1770-5
LOUD_SHARE = 0.9
SOUNDS_DB = -60.0  # below its loudest 100 ms an element holds nothing worth counting
PLAYS_DB = -25.0  # below its loud parts it does not play
JOINED_S = 2.0  # a rest no longer than a bar at 120 bpm is part of the playing
LOUDEST_S = 5.0
MOST_PAN_DB = 60.0
CURVE_FLOOR_DB = -120.0


def k_energy(trace: ElementTrace, channels: int) -> Floats:
    """Return the K-weighted energy of every 100 ms.

    In a mix of ``channels``: a mono element sounds in both of its channels.
    """
    return trace.k_energy * (channels / trace.channels if trace.channels < channels else 1.0)


def whole_steps(trace: ElementTrace) -> int:
    """Return the number of 100 ms steps of full length."""
    return min(round(trace.frames / trace.rate_hz / STEP_S + 1e-6 - 0.5), len(trace.k_energy))


def integrated_lufs(energy: Floats) -> float | None:
    """Return the integrated loudness (ITU-R BS.1770-5).

    Of the energies of whole 100 ms steps; None below the gate or 400 ms.
    """
    return gated_loudness(sliding_means(energy, WINDOW_STEPS))


def sounding(energy: Floats) -> Mask:
    """Tell the steps that lie near the loud ones.

    Within 25 dB of the 90th percentile of all that are not far below the loudest.
    """
    some: Mask = energy > 10 ** (SOUNDS_DB / 10) * energy.max(initial=0.0)
    if not some.any():
        return some
    loud = float(np.quantile(energy[some], LOUD_SHARE))
    within: Mask = energy > 10 ** (PLAYS_DB / 10) * loud
    return within


def playing(energy: Floats) -> Mask:
    """Tell the steps in which an element plays.

    Where it sounds, and in rests of 2 s or less between.

    Examples
    --------
    >>> hits = np.tile([1.0, 0.0, 0.0, 0.0], 3)
    >>> playing(np.concatenate([hits, np.zeros(30), hits])).sum()
    np.int64(18)
    """
    mask = sounding(energy)
    places = np.flatnonzero(mask)
    for place, next_place in pairwise(places):
        if (next_place - place - 1) * STEP_S <= JOINED_S:
            mask[place:next_place] = True
    return mask


def spans_of(mask: Mask, duration_s: float) -> tuple[Span, ...]:
    """Return the stretches of ``True`` steps.

    Examples
    --------
    >>> spans_of(np.array([False, True, True, False]), 0.35)
    (Span(start_s=0.1, end_s=0.3),)
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return tuple(
        Span(round(int(first) * STEP_S, 3), min(round(int(last) * STEP_S, 3), duration_s))
        for first, last in zip(edges[::2], edges[1::2], strict=True)
    )


def measure_level(trace: ElementTrace, mix: ElementTrace) -> ElementLevel:
    """Measure how loud and where an element plays.

    Parameters
    ----------
    trace, mix
        Of the element at its level in the mix, and of the mix, from the same start.

    Notes
    -----
    ``while_playing_lu`` compares the mean K-weighted energies of element and mix over the stretches in which the element plays, without
    a gate. ``jumps_db`` is read from windows of 400 ms that lie within 25 dB of the loud ones, so rests between hits do not count.
    Crest: highest sample over the RMS of the louder channel, over the same stretches. Pan: power of right over left, all of it,
    limited to 60 dB. Correlation: ``2 LR / (LL + RR)``, K-weighted. The curve is the mean power in third octaves while it plays; a
    full-scale square wave is 0 dB.
    """
    energy, mixed = k_energy(trace, mix.channels), mix.k_energy
    mask = playing(energy)
    whole, mix_whole = whole_steps(trace), whole_steps(mix)
    integrated, of_mix = integrated_lufs(energy[:whole]), integrated_lufs(mixed[:mix_whole])
    together = min(len(mask), len(mixed))
    rows = mask[:together]
    own, around = energy[:together][rows].sum(), mixed[:together][rows].sum()
    curve, bands = _curve_db(trace, mask), third_octaves(trace.rate_hz)
    return ElementLevel(
        integrated_lufs=integrated,
        in_mix_lu=None if integrated is None or of_mix is None else integrated - of_mix,
        while_playing_lu=power_to_db(float(own / around)) if around > 0 else None,
        sample_peak_dbfs=amplitude_to_db(trace.peak.max(initial=0.0)),
        crest_db=_crest_db(trace, mask),
        jumps_db=_jumps_db(energy[:whole]),
        plays=spans_of(mask, trace.duration_s),
        plays_share=float(mask.mean()) if len(mask) else 0.0,
        loudest=_loudest(energy, trace.duration_s),
        pan_db=_pan_db(trace),
        third_octave_hz=tuple(float(value) for value in bands.centre_hz),
        third_octave_db=tuple(float(value) for value in curve),
        correlation=_correlation(trace),
        clipped=trace.clipping.where,
        clipped_runs=trace.clipping.runs,
    )


def _crest_db(trace: ElementTrace, mask: Mask) -> float | None:
    if not mask.any():
        return None
    power = float(trace.energy[:, mask].mean(axis=1).max())
    peak = power_to_db(float(trace.peak[mask].max()) ** 2)
    level = power_to_db(power)
    return None if peak is None or level is None else peak - level


def _jumps_db(energy: Floats) -> float | None:
    windows = sliding_means(energy, WINDOW_STEPS)
    loud = windows[sounding(windows)]
    if len(loud) == 0 or loud.max() < energy_at(-200.0):
        return None
    low, high = np.quantile(10 * np.log10(loud), (0.10, 0.95))
    return float(high - low)


def _loudest(energy: Floats, duration_s: float) -> Span | None:
    if not energy.any():
        return None
    steps = min(round(LOUDEST_S / STEP_S), len(energy))
    first = int(np.argmax(sliding_means(energy, steps)))
    return Span(round(first * STEP_S, 3), min(round((first + steps) * STEP_S, 3), duration_s))


def _pan_db(trace: ElementTrace) -> float | None:
    if trace.channels == 1 or trace.silent:
        return None
    left, right = (max(power_to_db(float(row.sum())) or -300.0, -300.0) for row in trace.energy)
    return float(np.clip(right - left, -MOST_PAN_DB, MOST_PAN_DB))


def _correlation(trace: ElementTrace) -> float | None:
    """Return ``2 LR / (LL + RR)`` of all that sounds; None where there are no two channels to compare."""
    if trace.channels == 1 or trace.silent or trace.energy.sum(axis=1).min() <= 10 ** (-MOST_PAN_DB / 10) * trace.energy.sum():
        return None
    return float(np.clip(2.0 * trace.k_cross.sum() / trace.k_energy.sum(), -1.0, 1.0))


def _curve_db(trace: ElementTrace, mask: Mask) -> Floats:
    centre_s = (np.arange(len(trace.thirds)) + 0.5) * CURVE_FRAMES * trace.hop_s
    step = np.minimum((centre_s / STEP_S).astype(np.intp), max(len(mask) - 1, 0))
    chosen = mask[step] if len(mask) else np.zeros(len(step), np.bool_)
    curves = trace.thirds[chosen] if chosen.any() else trace.thirds
    if len(curves) == 0:
        return np.full(trace.thirds.shape[1], CURVE_FLOOR_DB)
    return powers_to_db(curves.mean(axis=0, dtype=np.float64), CURVE_FLOOR_DB)
