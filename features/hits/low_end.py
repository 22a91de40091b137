"""The low end.

Its level and width, and the kick against the bass.
"""

import numpy as np
from numpy.typing import NDArray

from features.hits.audibility import HitTrace, worst_windows
from features.hits.dips import after_kicks, typical_dip
from features.hits.kicks import Kicks, find_kicks
from features.records.base import Absence, Course, Moment, Span
from features.records.low_end import LowEnd
from features.sound.bands import octave_overlap
from features.sound.decibels import power_to_db, powers_to_db
from features.sound.measurement import measurement
from features.sound.spectrogram import Spectrogram

Floats = NDArray[np.float64]

SUB_HZ = (20.0, 60.0)
BASS_HZ = (60.0, 250.0)
SIDE_BELOW_HZ = 120.0
SLOT_HZ = (30.0, 250.0)
SEARCH_HZ = (30.0, 160.0)
KICK_CENTRE_S = 0.07
FEWEST_BETWEEN = 20
MOST_LOSS_DB = 60.0
STEP_S = 0.5
WINDOW_S = 0.4
QUIET_DB = -40.0
JUMP_DB = 3.0
JUMP_WINDOW_S = 4.0
WIDE_S = 5.0
WIDE_DB = -20.0
MOST = 5
NOTE_S = 0.08
REGULAR_S = 0.25  # without hits to cut at
NOTE_RANGE_DB = 15.0
FEWEST_NOTES = 8


@measurement
def measure_low_end(trace: HitTrace, spectrogram: Spectrogram) -> LowEnd:
    """Measure everything below about 250 Hz.

    Kick and bass are told apart in time: the bass is the mean power of the 0.19 s windows that no kick fills, the kick what the two
    windows from each kick on hold beyond that. On six songs with separate stems the kick's strongest frequency came out within a
    third octave in five, the rest's in five. ``slot_overlap`` is ``sum(min(p_kick, p_bass))`` of both third-octave
    spectra, each averaged over an octave and scaled to a sum of 1. Own definitions after common practice, no published source.
    """
    kicks = find_kicks(trace)
    kick, bass = _two_spectra(spectrogram, kicks)
    level = _course(spectrogram)
    values: dict[str, float | None] = {
        "sub_share_db": _share_db(spectrogram, *SUB_HZ),
        "bass_share_db": _share_db(spectrogram, *BASS_HZ),
        "kick_hz": _strongest(spectrogram.detail_hz, kick, SEARCH_HZ),
        "bass_hz": _strongest(spectrogram.detail_hz, bass, SEARCH_HZ),
        "kick_lift_db": float(np.median(kicks.lift_db)) if len(kicks) else None,
        "kick_dip_db": _dip_db(trace, kicks),
        "slot_overlap": _overlap(spectrogram.detail_hz, kick, bass),
        "side_level_db": _side_level_db(spectrogram),
        "mono_loss_db": _mono_loss_db(spectrogram),
        "note_spread_db": _note_spread_db(trace),
    }
    return LowEnd(
        **values,
        kick_count=len(kicks),
        kick_times_s=tuple(kicks.times_s.tolist()),
        level=level,
        weakest_kicks=worst_windows(kicks.times_s, kicks.lift_db),
        uneven=_uneven(level),
        widest=_widest(spectrogram),
        absent=tuple(Absence(name, _why(name, len(kicks), spectrogram)) for name, value in values.items() if value is None),
    )


def _why(name: str, kicks: int, spectrogram: Spectrogram) -> str:
    if name.startswith("kick") and not kicks:
        return "no kick was found"
    if name == "slot_overlap":
        return "kick and bass were not both found"
    if name == "side_level_db":
        return "the file is mono" if spectrogram.channels == 1 else "there is no side signal below 120 Hz"
    if name == "note_spread_db":
        return "too few notes sound in the low end"
    return "nothing sounds in the low end"


def _share_db(spectrogram: Spectrogram, low_hz: float, high_hz: float) -> float | None:
    power = spectrogram.fine_left + spectrogram.fine_right
    inside = (spectrogram.fine_hz >= low_hz) & (spectrogram.fine_hz < high_hz)
    total = float(power[spectrogram.fine_hz >= SUB_HZ[0]].sum())  # an offset is no sound
    return power_to_db(float(power[inside].sum()) / total) if total > 0 else None


def _detail_power(spectrogram: Spectrogram, frames: NDArray[np.int64]) -> Floats:
    """Return the mean power of some frames in the twelfth-octave bands below 400 Hz, shape ``(bands,)``."""
    low = spectrogram.detail_hz < 400.0
    chosen = spectrogram.detail_db[frames][:, low].astype(np.float64)
    power = np.where(chosen > -199.0, 10 ** (chosen / 10), 0.0)
    return np.asarray(power.mean(axis=0)) if len(frames) else np.zeros(np.count_nonzero(low))


def _two_spectra(spectrogram: Spectrogram, kicks: Kicks) -> tuple[Floats, Floats]:
    """Return the twelfth-octave spectra of the kick and of what sustains; without a kick, zeros and the whole."""
    if not spectrogram.frames:
        return np.zeros(0), np.zeros(0)
    if not len(kicks):
        whole = _detail_power(spectrogram, np.arange(spectrogram.frames))
        return np.zeros_like(whole), whole
    hop_s = spectrogram.hop_s
    first = np.round((kicks.times_s + KICK_CENTRE_S) / hop_s - 0.5).astype(np.int64)
    frames = np.arange(spectrogram.frames)
    at = np.intersect1d(np.concatenate([first, first + 1]), frames)
    between = np.setdiff1d(frames, np.concatenate([at - 1, at]))
    if len(between) < FEWEST_BETWEEN:  # kicks all over: then what stands just before them, their window all but over
        between = np.intersect1d(np.floor(kicks.times_s / hop_s - 1.4).astype(np.int64), frames)
    bass = _detail_power(spectrogram, between)
    return np.maximum(_detail_power(spectrogram, at) - bass, 0.0), bass


def _strongest(centre_hz: Floats, power: Floats, search_hz: tuple[float, float]) -> float | None:
    """Return the power-weighted centre of the strongest third octave within ``search_hz``."""
    centre = centre_hz[: len(power)]
    inside = np.flatnonzero((centre >= search_hz[0]) & (centre <= search_hz[1]))
    if not len(inside) or not power[inside].sum() > 0:
        return None
    third = np.convolve(power, np.ones(5), mode="same")
    peak = int(inside[np.argmax(third[inside])])
    near = np.arange(max(peak - 2, 0), min(peak + 3, len(power)))
    return float(np.sum(centre[near] * power[near]) / np.sum(power[near]))


def _overlap(centre_hz: Floats, kick: Floats, bass: Floats) -> float | None:
    if len(kick) < 4:
        return None
    spectra = []
    for power in (kick, bass):
        thirds = power[: len(power) // 4 * 4].reshape(-1, 4).sum(axis=1)
        middle = np.sqrt(centre_hz[1 : 4 * len(thirds) : 4] * centre_hz[2 : 4 * len(thirds) : 4])
        thirds[(middle < SLOT_HZ[0]) | (middle > SLOT_HZ[1])] = 0.0
        spectra.append(thirds)
    return octave_overlap(*spectra)


def _dip_db(trace: HitTrace, kicks: Kicks) -> float | None:
    """Return how far the sustained low end dips 30-250 ms after the kick; 0 without a dip."""
    if not len(kicks):
        return None
    curves = after_kicks(powers_to_db(trace.low_sustained)[:, None], kicks, trace.hop_s)
    return typical_dip(curves)[1] if np.isfinite(curves.level_db).any() else None


def _below(spectrogram: Spectrogram) -> tuple[float, float, float]:
    """Return the mean power of L, R and Re(L R*) from 20 to 120 Hz: an offset in one channel is no width."""
    low = (spectrogram.fine_hz >= SUB_HZ[0]) & (spectrogram.fine_hz < SIDE_BELOW_HZ)
    left, right, cross = spectrogram.fine_left, spectrogram.fine_right, spectrogram.fine_cross.real
    return float(left[low].sum()), float(right[low].sum()), float(cross[low].sum())


def _side_level_db(spectrogram: Spectrogram) -> float | None:
    left, right, cross = _below(spectrogram)
    mid, side = (left + right + 2 * cross) / 4, (left + right - 2 * cross) / 4
    if spectrogram.channels == 1 or side <= 1e-10 * (left + right):
        return None
    return power_to_db(side / max(mid, 1e-10 * side))


def _mono_loss_db(spectrogram: Spectrogram) -> float | None:
    """``-10 log10((1 + r) / 2)`` with ``r = 2 sum LR / (sum L**2 + sum R**2)``, at most 60 dB."""
    left, right, cross = _below(spectrogram)
    if left + right <= 0:
        return None
    kept_share = (1 + 2 * cross / (left + right)) / 2
    return min(max(0.0, -10 * float(np.log10(max(kept_share, 1e-9)))), MOST_LOSS_DB)


def _note_spread_db(trace: HitTrace) -> float | None:
    """Return P95 - P10 of the notes' level: mean power of 30-150 Hz, strokes cut off, between one hit and the next.

    What stays 15 dB or more under the loud notes (their 95th percentile) is a rest or a note's end, and left out.
    """
    frames = len(trace.low_sustained)
    edges = np.unique(np.concatenate([[0], trace.starts, [frames]]))
    if len(trace.starts) < FEWEST_NOTES:
        edges = np.append(np.arange(0, frames, max(round(REGULAR_S / trace.hop_s), 1)), frames)
    edges = edges[np.concatenate([[True], np.diff(edges) >= round(NOTE_S / trace.hop_s)])]
    total = np.concatenate([[0.0], np.cumsum(trace.low_sustained, dtype=np.float64)])
    notes = powers_to_db(np.diff(total[edges]) / np.diff(edges))
    if not len(notes) or notes.max() <= -150.0:
        return None
    notes = notes[notes > np.quantile(notes, 0.95) - NOTE_RANGE_DB]
    return float(np.quantile(notes, 0.95) - np.quantile(notes, 0.10)) if len(notes) >= FEWEST_NOTES else None


def _course(spectrogram: Spectrogram) -> Course:
    low = spectrogram.detail_hz < SIDE_BELOW_HZ
    detail = spectrogram.detail_db[:, low].astype(np.float32)
    power = np.where(detail > -199.0, 10 ** (detail / 10), 0.0).sum(axis=1, dtype=np.float64)
    count = int(spectrogram.duration_s / STEP_S)
    centres = (np.arange(count) + 0.5) * STEP_S
    first = np.round((centres - WINDOW_S / 2) / spectrogram.hop_s).astype(np.int64)
    total = np.concatenate([[0.0], np.cumsum(power)])
    low_edge = np.clip(first, 0, len(power))
    high_edge = np.clip(first + max(round(WINDOW_S / spectrogram.hop_s), 1), 0, len(power))
    levels = powers_to_db((total[high_edge] - total[low_edge]) / np.maximum(high_edge - low_edge, 1))
    sounding = levels > levels.max(initial=-200.0) + QUIET_DB - 20.0
    sounding &= levels > -150.0
    middle = float(np.median(levels[sounding])) if sounding.any() else 0.0
    course_db = [
        round(float(level) - middle, 3) if sounds and level - middle > QUIET_DB else None
        for level, sounds in zip(levels, sounding, strict=True)
    ]
    return Course("dB", STEP_S / 2, STEP_S, tuple(course_db))


def _uneven(level: Course) -> tuple[Moment, ...]:
    """Return where the mean level of 4 s differs most from that of the 4 s before, at most 5, 3 dB or more."""
    values = np.array([np.nan if value is None else value for value in level.values], np.float64)
    half = round(JUMP_WINDOW_S / level.step_s)
    jumps = _jumps(values, half, level)
    moments: list[Moment] = []
    for jump, first_s in sorted(jumps, reverse=True):
        if jump < JUMP_DB or len(moments) == MOST:
            break
        middle_s = _middle(jumps, jump, first_s)
        if all(abs(middle_s - JUMP_WINDOW_S - moment.start_s) >= 2 * JUMP_WINDOW_S for moment in moments):
            moments.append(Moment(middle_s - JUMP_WINDOW_S, middle_s + JUMP_WINDOW_S, jump))
    return tuple(moments)


def _jumps(values: Floats, half: int, level: Course) -> list[tuple[float, float]]:
    """Return the steps between the means of ``half`` values before and after, and when: where more than half of both sound."""
    if len(values) < 2 * half:
        return []
    windows = np.lib.stride_tricks.sliding_window_view(values, half)
    sounding = np.isfinite(windows)
    enough = sounding.mean(axis=1) > 0.5
    means = np.where(sounding, windows, 0.0).sum(axis=1) / np.maximum(sounding.sum(axis=1), 1)
    at = half + np.flatnonzero(enough[:-half] & enough[half:])
    steps = np.abs(means[at] - means[at - half])
    return [(float(step), level.start_s + (float(place) - 0.5) * level.step_s) for step, place in zip(steps, at, strict=True)]


def _middle(jumps: list[tuple[float, float]], jump: float, around_s: float) -> float:
    """Return the middle of the windows around ``around_s`` that show the same jump: medians do not tell where in between it is."""
    same = [at_s for value, at_s in jumps if value > jump - 0.05 and abs(at_s - around_s) <= JUMP_WINDOW_S]
    return sum(same) / len(same)


def _widest(spectrogram: Spectrogram) -> tuple[Span, ...]:
    """Return the 5 s stretches with the most side against mid below 112 Hz, above -20 dB, widest first, at most 3."""
    low = spectrogram.band_hz < SIDE_BELOW_HZ
    count = max(round(WIDE_S / spectrogram.hop_s), 1)
    if spectrogram.channels == 1 or not spectrogram.frames:
        return ()
    sums = [np.convolve(part[:, low].sum(axis=1, dtype=np.float64), np.ones(count)) for part in (spectrogram.mid(), spectrogram.side())]
    mid, side = (total[min(count, spectrogram.frames) - 1 :: count] for total in sums)  # windows side by side
    power = mid + side
    ratio = powers_to_db(side / np.maximum(mid, 1e-12 * power + 1e-30))
    wide = (ratio > WIDE_DB) & (power > 0.01 * np.median(power))
    length = count * spectrogram.hop_s
    order = [int(at) for at in np.argsort(-ratio) if wide[at]][:3]
    return tuple(Span(at * length, min((at + 1) * length, spectrogram.duration_s)) for at in order)
