"""The gain that mastering moved over time.

Read from a mix and its master alone.

After the equaliser between both is known (`features.master_against_mix.equaliser`), every millisecond gives the gain that explains the
master best: ``g = <y, h * x> / <h * x, h * x>``, over all channels. What a limiter or compressor does to loudness, to hits and to the ear
can then be read off ``g`` in the same way as where the gain is known (`features.limiting.drive`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.limiting.distortion import slow_gain
from features.limiting.drive import STEPS_PER_S
from features.master_against_mix.equaliser import Linear, Read, estimate_filter

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

CHUNK_S = 20.0
SMOOTH_HZ = 200.0  # a millisecond in which the mix is near zero says little; slower would blur the attack of a limiter on heavy kicks
QUIET = 1e-4  # of the usual loud power: below it the gain is carried on
LEAST, MOST = 1e-3, 1e3
ROUNDS = 5
SETTLED, EXPLAINED = 0.9, 1e-3
INVERTED = (0.4, 2.5)  # of the median
REST_S = 0.050
REST_QUANTILE = 0.98
STEADIEST = 0.5


@dataclass(frozen=True, slots=True)
class GainCurve:
    """Gain per millisecond, linear, shape ``(steps,)``.

    The mean squares of the equalised mix and of what the gain does not explain.
    """

    gain: Singles
    power: Singles
    rest: Singles

    @property
    def unexplained(self) -> float:
        """Return the share of energy that stays unexplained.

        Of the master's, at an even level, by equaliser and gain.
        """
        loud = self.power > QUIET * _usual(self.power)
        return float(np.mean(self.rest[loud] / np.square(self.gain[loud]))) if loud.any() else 0.0

    @property
    def raise_db(self) -> float:
        """Gain ahead of a limiter.

        By how much the mix was raised where it is held down least.
        """
        width = round(REST_S * STEPS_PER_S)
        count = self.gain.size // width * width
        if not count:
            return float(20 * np.log10(np.median(self.gain))) if self.gain.size else 0.0
        power, rest = (course[:count].reshape(-1, width).sum(axis=1, dtype=np.float64) for course in (self.power, self.rest))
        gain = (self.gain[:count] * self.power[:count]).reshape(-1, width).sum(axis=1, dtype=np.float64) / np.maximum(power, 1e-20)
        loud = power > QUIET * width * _usual(self.power)
        if not loud.any():
            return float(20 * np.log10(np.median(gain)))
        unexplained = rest[loud] / (power[loud] * np.square(gain[loud]))
        steady = unexplained <= np.quantile(unexplained, STEADIEST)  # where a limiter rests, a constant gain explains everything
        return float(20 * np.log10(np.quantile(gain[loud][steady], REST_QUANTILE)))

    def reduction(self) -> Singles:
        """Return the gain reduction as a factor.

        Against the moments in which the gain is held down least, at most 1.
        """
        part: Singles = np.minimum(self.gain / np.float32(10 ** (self.raise_db / 20)), 1.0).astype(np.float32)
        return part


def _usual(power: Singles) -> float:
    return float(np.quantile(power, 0.9)) if power.size else 0.0


def gain_between(read: Read, frames: int, linear: Linear) -> GainCurve:
    """Return the gain curve over what both sounds share.

    ``read`` returns the same stretch of both, mid and side.
    """
    rate = linear.rate_hz
    steps = max(frames * STEPS_PER_S // rate, 0)
    cross, own, whole = (np.zeros(steps) for _ in range(3))
    size = round(CHUNK_S * STEPS_PER_S)
    for first in range(0, steps, size):
        last = min(first + size, steps)
        edges = (2 * np.arange(first, last + 1, dtype=np.int64) * rate + STEPS_PER_S) // (2 * STEPS_PER_S)
        before, after = equalised(read, int(edges[0]), int(edges[-1] - edges[0]), linear)
        inside = edges[:-1] - edges[0]
        width = np.diff(edges)
        cross[first:last] = np.add.reduceat((before * after).sum(axis=0), inside) / width
        own[first:last] = np.add.reduceat(np.square(before).sum(axis=0), inside) / width
        whole[first:last] = np.add.reduceat(np.square(after).sum(axis=0), inside) / width
    return _curve(cross, own, whole)


def equalised(read: Read, start: int, count: int, linear: Linear) -> tuple[Singles, Singles]:
    """Return mix and master with the equaliser matched.

    A stretch of the mix through the equaliser, and of the master as it is.
    """
    half = linear.half
    lead = min(half, start)
    before, after = read(start - lead, count + lead + half)
    missing = count + lead + half - before.shape[1]
    padded = np.pad(before, ((0, 0), (half - lead, missing)))
    return linear.apply(padded), after[:, lead : lead + count]


def part(read: Read, frames: int, rate_hz: int) -> tuple[Linear, GainCurve] | None:
    """Part mastering into a fixed equaliser and a moving gain.

    ``None`` where both sounds share too little.

    The first equaliser is found with one gain for each frame; then the gain per millisecond is taken out of the master, and the equaliser
    is found again, which frees it from what a gain that follows the music does to the average spectrum.
    """
    linear = estimate_filter(read, frames, rate_hz)
    if linear is None:
        return None
    best = last = linear, gain_between(read, frames, linear)
    for _ in range(ROUNDS):
        linear = estimate_filter(_without(read, last[1].gain, rate_hz), frames, rate_hz) or linear
        last = linear, gain_between(read, frames, linear)
        settled = last[1].unexplained > SETTLED * best[1].unexplained
        if last[1].unexplained < best[1].unexplained:
            best = last
        if settled and best[1].unexplained < EXPLAINED:  # before that a round may be worse than the one it starts from
            break
    return best


def _without(read: Read, gain: Singles, rate_hz: int) -> Read:
    """Return the same stretches with the gain taken out of the second sound; extremes of it are errors of estimation."""
    usual = float(np.median(gain)) if gain.size else 1.0
    gain = np.clip(gain, INVERTED[0] * usual, INVERTED[1] * usual)

    def steady(start: int, count: int) -> tuple[Singles, Singles]:
        before, after = read(start, count)
        at_step = (start + np.arange(after.shape[1])) * (STEPS_PER_S / rate_hz) - 0.5
        first = max(int(at_step[0]) - 1, 0) if at_step.size else 0
        near = gain[first : first + int(count * STEPS_PER_S / rate_hz) + 4]
        return before, (after / np.interp(at_step - first, np.arange(near.size), near)).astype(np.float32)

    return steady


def _curve(cross: Floats, own: Floats, whole: Floats) -> GainCurve:
    power = own.astype(np.float32)
    floor = QUIET * _usual(power)
    over, below = (slow_gain(products.astype(np.float32), STEPS_PER_S, SMOOTH_HZ) for products in (cross, own))
    known = below > max(floor, 1e-20)
    ratio = np.ones(own.size)
    ratio[known] = np.clip(over[known] / below[known], LEAST, MOST)
    if known.any() and not known.all():
        places = np.arange(own.size)
        ratio[~known] = np.interp(places[~known], places[known], ratio[known])
    rest = np.maximum(whole - 2 * ratio * cross + ratio**2 * own, 0.0)
    return GainCurve(ratio.astype(np.float32), power, rest.astype(np.float32))
