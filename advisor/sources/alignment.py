"""Whether two files hold one song, and its offset.

By its course of level, then by its waveform.

The course of level (10 ms) gives the offset to within its step; a whitened cross-correlation of stretches (after Knapp and Carter 1976)
then gives it to the sample, and says how far it stands out: equalisers and faders hardly change it, another song has nothing of it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.sources.aligned import Resampled
from features.sound.fourier import irfft, next_fast_len, rfft
from features.sound.signal import Source

Floats = NDArray[np.float64]

HOP_S = 0.01
SMOOTH_HOPS = 300  # slower changes of level (fades, sections) say little about the offset
LEAST_OVERLAP_S = 5.0
FLOOR_DB = -60.0
STRETCH_S = 5.0
STRETCHES = 5
SEARCH_S = 0.06
CLEAR = 18.0  # spreads by which the peak of a match stands out: new mixes of one song pass 30, songs of one key and tempo reach 15
MOST_APART_S = 0.0005
TOGETHER = 1.03
CANDIDATES = 8  # a song made of loops agrees with itself at many offsets


@dataclass(frozen=True, slots=True)
class Alignment:
    """How the later file lies against the earlier.

    ``offset_s`` is positive where the same music comes later in it.

    ``same`` says whether both hold the same song; where not, the offset is 0. ``matched`` of ``tried`` stretches agreed.
    """

    same: bool
    offset_s: float
    upside_down: bool
    matched: int
    tried: int


def course_of(source: Source) -> Floats:
    """Return the level (dB, 10 ms) without slow changes.

    Of both channels together.
    """
    hop = max(round(source.rate_hz * HOP_S), 1)
    rest = np.zeros((source.channels, 0), np.float32)
    parts: list[Floats] = []
    for block in source.blocks():
        sound = np.concatenate((rest, block), axis=1)
        steps = sound.shape[1] // hop
        whole = sound[:, : steps * hop].astype(np.float64)
        parts.append((whole * whole).reshape(source.channels, steps, hop).sum(axis=(0, 2)))
        rest = sound[:, steps * hop :]
    power = np.concatenate(parts) if parts else np.zeros(0)
    loudest = float(power.max(initial=0.0))
    if loudest <= 0.0:
        return np.zeros(power.shape)
    level: Floats = np.maximum(10.0 * np.log10(power / loudest + 1e-12), FLOOR_DB)
    return level - _smooth(level)


def _smooth(level: Floats) -> Floats:
    width = min(SMOOTH_HOPS, len(level))
    total = np.concatenate(([0.0], np.cumsum(level)))
    place = np.arange(len(level))
    low, high = np.maximum(place - width // 2, 0), np.minimum(place + width // 2 + 1, len(level))
    smoothed: Floats = (total[high] - total[low]) / (high - low)
    return smoothed


def offsets(first: Floats, second: Floats, most: int = CANDIDATES) -> list[int]:
    """Return the steps of offset where two courses agree.

    The best comes first.
    """
    least = round(LEAST_OVERLAP_S / HOP_S)
    if min(len(first), len(second)) < least:
        return [0]
    size = next_fast_len(len(first) + len(second))
    ones = [rfft(np.ones(len(course)), size) for course in (first, second)]
    spectra = [rfft(course, size) for course in (first, second)]
    powers = [rfft(course * course, size) for course in (first, second)]
    cross = irfft(spectra[1] * np.conj(spectra[0]), size)
    overlap = np.round(irfft(ones[1] * np.conj(ones[0]), size))
    own = irfft(ones[1] * np.conj(powers[0]), size) * irfft(powers[1] * np.conj(ones[0]), size)
    score = np.where(overlap >= least, cross / np.sqrt(np.maximum(own, 1e-9)), 0.0)
    score *= np.sqrt(np.minimum(overlap / min(len(first), len(second)), 1.0))  # a short overlap agrees by chance
    score[0] *= TOGETHER  # most bounces start at the same place
    best: list[int] = []
    for _ in range(most):
        peak = int(np.argmax(score))
        best.append(peak if peak < len(second) else peak - size)
        score[np.arange(peak - 20, peak + 21) % size] = 0.0
    return best


def align(first: Source, second: Source) -> Alignment:
    """Find two files' offset, and whether they share a song."""
    courses = course_of(first), course_of(second)
    like_first: Source = second if second.rate_hz == first.rate_hz else Resampled(second, first.rate_hz)
    checked: list[Alignment] = []
    for steps in dict.fromkeys((*offsets(*courses), 0)):
        checked.append(_check(first, like_first, steps * HOP_S, courses[0]))
        if checked[-1].same:  # the course of the whole song tells loops apart better than any stretch of it
            return checked[-1]
    best = max(checked, key=lambda candidate: candidate.matched)
    return Alignment(same=False, offset_s=0.0, upside_down=False, matched=best.matched, tried=best.tried)


def _check(first: Source, second: Source, offset_s: float, course: Floats) -> Alignment:
    rate = first.rate_hz
    low, high = max(0.0, -offset_s), min(first.frames / rate, second.frames / rate - offset_s)
    matches: list[tuple[float, float, float]] = []
    for start_s in _places(low, high, course):
        count = round(min(STRETCH_S, high - low) * rate)
        earlier_part, later_part = (
            _mono(source, round(at * rate), count) for source, at in ((first, start_s), (second, start_s + offset_s))
        )
        if min(len(earlier_part), len(later_part)) >= rate // 2:
            matches.append(_match(earlier_part, later_part, round(SEARCH_S * rate)))
    clear = [match for match in matches if match[1] >= CLEAR]
    if not clear:
        return Alignment(same=False, offset_s=0.0, upside_down=False, matched=0, tried=len(matches))
    middle = float(np.median([lag for lag, _, _ in clear]))
    agreed = [match for match in clear if abs(match[0] - middle) <= MOST_APART_S * rate]
    same = 2 * len(agreed) > len(matches)
    upside_down = sum(sign for _, _, sign in agreed) < 0.0
    return Alignment(same, offset_s + middle / rate, upside_down, len(agreed), len(matches))


def _places(low: float, high: float, course: Floats) -> Sequence[float]:
    """Return where stretches start.

    Spread over what both share, each moved to where most happens nearby.
    """
    room = high - low - STRETCH_S
    if room <= 0.0:
        return [low]
    width = room / STRETCHES
    activity = np.concatenate(([0.0], np.cumsum(course * course)))
    places = []
    for number in range(STRETCHES):
        starts = np.arange(low + number * width, low + (number + 1) * width, 0.1)
        first = np.clip((starts / HOP_S).astype(int), 0, len(activity) - 1)
        last = np.clip(((starts + STRETCH_S) / HOP_S).astype(int), 0, len(activity) - 1)
        places.append(float(starts[int(np.argmax(activity[last] - activity[first]))]))
    return places


def _mono(source: Source, start: int, count: int) -> Floats:
    """Return a stretch as the mean of its channels."""
    return np.asarray(source.read(start, count).mean(axis=0), dtype=np.float64)


def _match(first: Floats, second: Floats, search: int) -> tuple[float, float, float]:
    """Return lag in samples, distinctness in spreads, and sign."""
    count = min(len(first), len(second))
    window = np.hanning(count)
    size = next_fast_len(2 * count)
    cross = rfft(second[:count] * window, size) * np.conj(rfft(first[:count] * window, size))
    strength = np.abs(cross)
    floor = 1e-3 * float(strength.max(initial=0.0))
    if floor <= 0.0:
        return 0.0, 0.0, 1.0
    whitened = irfft(cross / (strength + floor), size)
    near = np.concatenate((whitened[-search:], whitened[: search + 1]))
    peak = int(np.argmax(np.abs(near)))
    spread = 1.4826 * float(np.median(np.abs(near)))
    return float(peak - search), abs(float(near[peak])) / max(spread, 1e-12), float(np.sign(near[peak]))
