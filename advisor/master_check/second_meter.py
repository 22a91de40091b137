"""A second loudness meter: pyloudnorm reads what ours has read."""

import numpy as np

from features.loudness.level import LevelMeter, integrated_from_steps
from features.sound.signal import BLOCK_FRAMES, Source

MOST_S = 300.0  # pyloudnorm wants the sound in memory; five minutes of stereo are 0.2 GB there
MOST_APART_LU = 0.1  # EBU Tech 3341: what a meter may be off


def loudness_doubt(source: Source, integrated_lufs: float | None) -> str | None:
    """Return one sentence where both meters disagree, else None.

    Of a song longer than five minutes both read the first five, so that memory does not grow with its length.
    """
    if integrated_lufs is None:
        return None
    frames = min(source.frames, round(MOST_S * source.rate_hz))
    ours = integrated_lufs if frames == source.frames else _first_part_lufs(source, frames)
    if ours is None:
        return None
    theirs = _second_lufs(source, frames)
    if abs(theirs - ours) <= MOST_APART_LU:
        return None
    return f"A second meter reads {theirs:.1f} LUFS where ours reads {ours:.1f} LUFS; take the loudness with care"


def _first_part_lufs(source: Source, frames: int) -> float | None:
    meter = LevelMeter(source.rate_hz, source.channels)
    for start in range(0, frames, BLOCK_FRAMES):
        meter.push(source.read(start, min(BLOCK_FRAMES, frames - start)))
    return integrated_from_steps(meter.finish().k_sum())


def _second_lufs(source: Source, frames: int) -> float:
    """Return pyloudnorm's integrated loudness in LUFS.

    With the standard's own filters at any rate.
    """
    import pyloudnorm  # noqa: PLC0415 - takes a second to import

    sound = np.asarray(source.read(0, frames).T, np.float64)
    return float(pyloudnorm.Meter(source.rate_hz, filter_class="DeMan").integrated_loudness(sound))
