"""Two clips brought to one loudness.

Neither of them is louder, or has higher peaks, than the song is there.

Louder sounds better whatever else has changed, so only the gain differs from what the step did: the largest common
loudness at which both stay within the song's own loudness, sample peak and true peak on that stretch, and below full scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, log10

import numpy as np

from advisor.audition.wav import Whole, quantised, single
from features.loudness.gating import ABSOLUTE_GATE_LUFS, BLOCK_STEPS, loudness
from features.loudness.level import LevelMeter, integrated_from_steps
from features.sound.decibels import db_to_amplitude, db_to_power
from features.sound.signal import Samples

BITS = 24
FADE_S = 0.015
FULL_SCALE = 1.0 - 0.5 ** (BITS - 1)
CLOSE_LU = 0.02  # well inside the 0.1 LU that is promised
A_LITTLE_DB = 0.001
ROUNDS = 6
SAME_DB = -60.0  # what differs lies that far below the clip: a thousandth of it, which nobody hears


@dataclass(frozen=True, slots=True)
class Loudness:
    """A clip's loudness in LUFS and its linear peaks.

    No loudness when it is all but silent.
    """

    lufs: float | None
    sample_peak: float
    true_peak: float


@dataclass(frozen=True, slots=True)
class MatchedClips:
    """Both clips at one loudness.

    Whole numbers of 24 bits, shape ``(channels, frames)``.
    """

    before: Whole
    after: Whole
    lufs: float
    same: bool


def faded(samples: Samples, rate_hz: int) -> Samples:
    """Return the clip with both ends faded, against clicks."""
    count = min(round(FADE_S * rate_hz), samples.shape[1] // 4)
    ramp = (0.5 - 0.5 * np.cos(np.pi * (np.arange(count) + 0.5) / max(count, 1))).astype(np.float32)
    out = samples.copy()
    out[:, :count] *= ramp
    out[:, out.shape[1] - count :] *= ramp[::-1]
    return out


def loudness_of(samples: Samples, rate_hz: int) -> Loudness:
    """Measure a clip as a song is (BS.1770-5).

    Where it is shorter than one block of 400 ms, without gates.
    """
    meter = LevelMeter(rate_hz, samples.shape[0])
    meter.push(samples)
    trace = meter.finish()
    steps = trace.k_sum()
    lufs = integrated_from_steps(steps) if len(steps) >= BLOCK_STEPS else loudness(float(steps.mean()) if len(steps) else 0.0)
    if lufs is not None and lufs <= ABSOLUTE_GATE_LUFS:
        lufs = None
    return Loudness(lufs, float(trace.sample_peak.max(initial=0.0)), float(trace.true_peak.max(initial=0.0)))


def match(song: Samples, before: Samples, after: Samples, rate_hz: int) -> MatchedClips | None:
    """Return both clips matched.

    None when the song or one of them is all but silent there.

    The three stretches start at the same frame; ``song`` is the mix as it is, which sets the limits.
    """
    bound = loudness_of(faded(song, rate_hz), rate_hz)
    clips = [faded(clip, rate_hz) for clip in (before, after)]
    readings = [loudness_of(clip, rate_hz) for clip in clips]
    levels = [reading.lufs for reading in readings if reading.lufs is not None]
    if bound.lufs is None or len(levels) < len(clips):
        return None
    limits = Loudness(bound.lufs, min(bound.sample_peak, FULL_SCALE), min(bound.true_peak, 1.0))
    target = min(bound.lufs, *(level - over(reading, limits) for level, reading in zip(levels, readings, strict=True)))
    for turn in range(ROUNDS):
        made = [quantised(clip * np.float32(db_to_amplitude(target - level)), BITS) for clip, level in zip(clips, levels, strict=True)]
        checked = [loudness_of(single(clip, BITS), rate_hz) for clip in made]
        if any(reading.lufs is None for reading in checked):
            return None
        too_much = max(max(over(reading, limits), (reading.lufs or 0.0) - bound.lufs - A_LITTLE_DB) for reading in checked)
        apart = [(reading.lufs or 0.0) - target for reading in checked]
        if too_much <= 0.0 and max(apart) - min(apart) <= CLOSE_LU:
            break
        # Rounding to whole numbers moved a peak, or a quiet block crossed the gate: what was read is what the next turn starts from.
        levels = [level + error for level, error in zip(levels, apart, strict=True)]
        target -= max(too_much, 0.0) + A_LITTLE_DB * (turn + 1)
    return MatchedClips(made[0], made[1], 0.5 * ((checked[0].lufs or 0.0) + (checked[1].lufs or 0.0)), alike(made))


def over(reading: Loudness, limits: Loudness) -> float:
    """Return by how many dB a peak passes its limit.

    Negative where there is room.
    """
    return max(_ratio_db(reading.sample_peak, limits.sample_peak), _ratio_db(reading.true_peak, limits.true_peak))


def _ratio_db(value: float, limit: float) -> float:
    return 20.0 * log10(value / limit) if value > 0.0 and limit > 0.0 else (inf if value > 0.0 else -inf)


def alike(clips: Sequence[Whole]) -> bool:
    """Whether both sound the same at matched loudness."""
    before, after = (clip.astype(np.float64) for clip in clips)
    most = db_to_power(SAME_DB) * float(np.square(before).mean())
    return float(np.square(after - before).mean()) <= most
