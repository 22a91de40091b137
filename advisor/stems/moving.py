"""Where stems lie in the mix, when they do not lie where they start: all together, or single ones."""

from collections.abc import Sequence

import numpy as np

from advisor.stems.aligned import Aligned, fitted
from features import alignment
from features.alignment import Flags
from features.gram import GramTrace, Singles
from features.offsets import CHANCE, envelope_lags, waveform_lag
from features.signal import Samples, Source

WINDOW_S = 12.0  # of sound that is looked for
REACH_S = 10.0  # a single stem may lie this far away; all together any distance
NEAR_S = 0.05  # the envelopes' answer is that exact
TRUSTED = 0.7  # of the usual gain: what fits worse may lie elsewhere
PLAUSIBLE = 2.0
CLEARER = 1.1  # lags that fit as well as a nearer one are not preferred to it


def loudest(envelope: Singles, step_s: float, rate_hz: int) -> tuple[int, int]:
    """Return start and length in frames of the window that holds most of the energy."""
    steps = min(max(round(WINDOW_S / step_s), 1), max(envelope.size, 1))
    total = np.concatenate([[0.0], np.cumsum(envelope, dtype=np.float64)])
    start = int(np.argmax(total[steps:] - total[:-steps])) if envelope.size >= steps else 0
    return round(start * step_s * rate_hz), round(steps * step_s * rate_hz)


def common_offset(sources: Sequence[Source], mix: Source, trace: GramTrace, used: Flags) -> int:
    """Return by how many frames all stems must be moved; 0 when nothing else is clear."""
    numbers = [int(one) for one in np.flatnonzero(used)]
    envelope: Singles = np.stack([trace.sketches[one].envelope for one in numbers]).sum(axis=0, dtype=np.float32)
    step_s, rate = trace.sketches[0].step_s, mix.rate_hz
    start, length = loudest(envelope, step_s, rate)
    sound = _sum(sources, numbers, start, length)
    near = round(NEAR_S * rate)
    best, height = 0, 0.0
    for lag_steps in dict.fromkeys((0, *envelope_lags(envelope, trace.sketches[-1].envelope))):
        before = round(lag_steps * step_s * rate) - near
        lag = waveform_lag(sound, _stretch(mix, start + before, length + 2 * near), 0, 2 * near, home=min(max(-before, 0), 2 * near))
        if lag.height > max(CHANCE * lag.spread, CLEARER * height):
            best, height = lag.frames + before, lag.height
    return best


def single_offsets(sources: Sequence[Aligned], mix: Source, trace: GramTrace, used: Flags) -> dict[int, int]:
    """Return the stems that lie elsewhere in the mix, with the frames by which they must be moved; loudest first.

    Each is looked for in what the stems that fit leave of the mix.
    """
    own = alignment.own_gains(trace.total, used)
    usual = float(np.quantile(own[used], 0.75))
    if usual <= 0.0:
        return {}
    suspects = [int(one) for one in np.flatnonzero(used) if own[one] < TRUSTED * usual]
    trusted = [(sources[one], float(own[one])) for one in map(int, np.flatnonzero(used)) if one not in suspects]
    moves: dict[int, int] = {}
    for number in sorted(suspects, key=lambda one: -trace.sketches[one].power):
        found = _place(sources[number], trace, number, mix, trusted, usual)
        if found:
            moves[number] = found
            trusted.append((sources[number].moved(sources[number].offset_frames + found, 1.0), usual))
    return moves


def _place(stem: Aligned, trace: GramTrace, number: int, mix: Source, trusted: Sequence[tuple[Aligned, float]], usual: float) -> int:
    sketch, rate = trace.sketches[number], mix.rate_hz
    start, length = loudest(sketch.envelope, sketch.step_s, rate)
    reach = round(REACH_S * rate)
    sound = stem.read(start, length)
    left = _stretch(mix, start - reach, length + 2 * reach).copy()
    for source, gain in trusted:
        left -= np.float32(gain) * _stretch(source, start - reach, length + 2 * reach)
    lag = waveform_lag(sound, left, 0, 2 * reach, home=reach)
    if not lag.clear:
        return 0
    there = left[:, lag.frames : lag.frames + sound.shape[1]]
    wide = np.broadcast_to(sound, there.shape)
    gain = float(np.sum(wide * there, dtype=np.float64)) / max(float(np.sum(wide * wide, dtype=np.float64)), 1e-30)
    return lag.frames - reach if usual / PLAUSIBLE < gain < usual * PLAUSIBLE else 0


def _sum(sources: Sequence[Source], numbers: Sequence[int], start: int, length: int) -> Samples:
    channels = max(sources[one].channels for one in numbers)
    total = np.zeros((channels, min(length, sources[0].frames - start)), np.float32)
    for one in numbers:
        total += sources[one].read(start, length)
    return total


def _stretch(source: Source, start: int, length: int) -> Samples:
    """Return a stretch that may reach past both ends of the source, where it is silent."""
    before = max(-start, 0)
    found = source.read(max(start, 0), max(length - before, 0))
    return fitted(np.pad(found, ((0, 0), (before, 0))), length) if before else fitted(found, length)
