"""One drive of the reference limiter over a song.

Worked out from its peaks and energies per millisecond.
A limiter only multiplies by a gain, so the loudness of the limited song is that of its K-weighted energies times the gain squared; and the
gain depends on the peaks alone. Both are kept at 1 kHz, which is fine enough for a look-ahead of 5 ms (held to real limiting in a test:
within 0.1 LU), so any drive of a whole song costs milliseconds.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from features.limiting.distortion import SPLIT_HZ, slow_gain
from features.loudness.gating import integrated_from_steps, loudness, sliding_means
from features.processors.dynamics.limiter import Setting, gain_curve
from features.records.base import Moment
from features.sound.compiled import kernel

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

STEPS_PER_S = 1000
NOT_DRIVEN = np.zeros(0, np.float32)
GATING_STEPS = 10  # the gate works on steps of 10 ms
QUICK_S = 0.020  # a release quicker than this follows the wave itself
PUMPING_LOW_HZ = 1.0
HIT_MS, BEFORE_MS, SLACK_MS = 30, 60, 10  # a hit's first 30 ms against the 60 ms that end 10 ms before it
SHORT_TERM_S = 3
FLOOR_POWER = 1e-12
LOUDNESS_EXPONENT = 0.3
LOST_FROM_DB, LOST_WHOLE_DB = 2.0, 4.0  # around half the power of the attack; common practice, no published source
LEAST_REDUCTION_DB = 0.1
MOST_MOMENTS = 5


@kernel
def _fill_means(energy: Singles, gain: Singles, means: Floats) -> None:
    """Write the mean of energy times gain squared over steps of 10 ms; an empty gain is 1. No copies: a song may be hours long."""
    for number in range(means.shape[0]):
        total = 0.0
        for step in range(number * 10, number * 10 + 10):
            factor = np.float64(gain[step]) if gain.shape[0] else 1.0
            total += factor * factor * energy[step]
        means[number] = total / 10.0


@dataclass(frozen=True, slots=True)
class Steps:
    """A stretch of a song per millisecond.

    Highest value of all channels, and K-weighted mean square of all channels added up.
    Both have the shape ``(steps,)``; ``envelope`` is linear.
    """

    envelope: Singles
    energy: Singles

    def cut(self, start_s: float, end_s: float) -> "Steps":
        """Return the stretch from ``start_s`` to ``end_s``."""
        first, last = round(start_s * STEPS_PER_S), round(end_s * STEPS_PER_S)
        return Steps(self.envelope[first:last], self.energy[first:last])

    def gain(self, ceiling: float, setting: Setting) -> Singles:
        """Return the limiter's gain at a ceiling.

        Linear, lower by the drive; shape ``(steps,)``.
        A gain quick enough to follow the wave is lowest where the wave is highest, which one value per millisecond cannot
        show; a look-ahead longer by one step makes up for it (found by comparing with real limiting, as tested).
        """
        extra_s = 1 / STEPS_PER_S if setting.release_s < QUICK_S else 0.0
        return gain_curve(self.envelope, ceiling, STEPS_PER_S, replace(setting, look_ahead_s=setting.look_ahead_s + extra_s))

    def integrated_lufs(self, gain: Singles | None = None) -> float | None:
        """Return the stretch's gated loudness under a gain.

        ``None`` when it is silent or shorter than 400 ms.
        """
        tens = np.empty(self.energy.size // GATING_STEPS)
        _fill_means(self.energy, NOT_DRIVEN if gain is None else gain, tens)
        return integrated_from_steps(tens)


def pumping_db(gain: Singles) -> float:
    """Return how much the gain moves, in dB.

    RMS between 1 and 20 Hz over the whole stretch.
    ``RMS(20 log10 s - its part below 1 Hz)``, ``s`` the gain below 20 Hz. It is taken over the whole stretch, not only
    where the limiter works: a lone reduction in 30 s is not heard as pumping.
    """
    if not gain.size:
        return 0.0
    level_db = 20 * np.log10(np.maximum(slow_gain(gain, STEPS_PER_S, SPLIT_HZ), 1e-6))
    moving = level_db - slow_gain(level_db, STEPS_PER_S, PUMPING_LOW_HZ)
    return float(np.sqrt(np.mean(np.square(moving, dtype=np.float64))))


def hit_losses_db(energy: Singles, gain: Singles, hits: NDArray[np.intp]) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Return how much lift the gain takes from each hit.

    In dB, with the hit's weight and its step; hits too near an end are left out.
    Lift = energy of the 30 ms from the onset over that of the 60 ms up to 10 ms before it; loss = lift without minus lift with the gain.
    The weights (energy to the power of 0.3, Stevens' law) keep many light hits from hiding the few that carry the song.
    ``hits`` are steps.
    """
    inside = hits[(hits >= BEFORE_MS + SLACK_MS) & (hits + HIT_MS <= gain.size)]
    lifts = []
    at = np.zeros(inside.size)
    for power in (energy * np.square(gain), energy):
        total = np.concatenate(([0.0], np.cumsum(power, dtype=np.float64)))
        at = total[inside + HIT_MS] - total[inside]
        before = total[inside - SLACK_MS] - total[inside - SLACK_MS - BEFORE_MS]
        lifts.append(10 * np.log10((at + FLOOR_POWER) / (before + FLOOR_POWER)))
    return lifts[1] - lifts[0], (at + FLOOR_POWER) ** LOUDNESS_EXPONENT, inside


def lost_share(loss_db: Floats, weights: Floats) -> float:
    """Return the share of the hits that lost lift.

    By weight; about 3 dB of lift or more: in part from 2 dB, whole from 4 dB.
    Without the ramp, a tenth of a dB on many hits that are alike would decide between none and all.

    Examples
    --------
    >>> lost_share(np.array([0.0, 3.0, 5.0, 1.0]), np.ones(4))
    0.375
    """
    part = np.clip((loss_db - LOST_FROM_DB) / (LOST_WHOLE_DB - LOST_FROM_DB), 0.0, 1.0)
    return float((part * weights).sum() / weights.sum()) if loss_db.size else 0.0


def hit_loss_db(energy: Singles, gain: Singles, hits: NDArray[np.intp]) -> float:
    """Return how much of the hits' lift is lost.

    In dB, median over the hits, weighted by loudness; 0 without hits.
    """
    loss, weights, _ = hit_losses_db(energy, gain, hits)
    if not loss.size:
        return 0.0
    order = np.argsort(loss, kind="stable")
    weight = np.cumsum(weights[order])
    return max(float(loss[order][np.searchsorted(weight, weight[-1] / 2)]), 0.0)


def psr_db(steps: Steps, gain: Singles) -> float:
    """Return the median of true peak minus loudness.

    Over 3 s windows every second (one window where the stretch is shorter).
    """
    width = max(min(SHORT_TERM_S * STEPS_PER_S, gain.size), 1)
    peaks, energy = steps.envelope * gain, steps.energy * np.square(gain)
    ratios = []
    for at in range(0, gain.size - width + 1, STEPS_PER_S):
        level_lufs = loudness(float(energy[at : at + width].mean(dtype=np.float64)))
        if level_lufs is not None:
            ratios.append(20 * np.log10(float(peaks[at : at + width].max())) - level_lufs)
    return float(np.median(ratios)) if ratios else 0.0


def hardest_moments(gain: Singles) -> tuple[Moment, ...]:
    """Return where the limiter works hardest.

    Up to five separate stretches of 3 s, worst first; value = mean reduction in dB.
    """
    tenth = STEPS_PER_S // 10
    starts = range(0, gain.size - tenth + 1, tenth)
    reduction_db = np.array([-20 * np.log10(np.maximum(gain[at : at + tenth], 1e-6)).mean(dtype=np.float64) for at in starts])
    width = min(SHORT_TERM_S * 10, reduction_db.size)
    means = sliding_means(reduction_db, max(width, 1))
    moments: list[Moment] = []
    for number in np.argsort(-means, kind="stable"):
        start_s, mean_db = float(number) / 10, float(means[number])
        if mean_db < LEAST_REDUCTION_DB or len(moments) == MOST_MOMENTS:
            break
        if all(abs(start_s - moment.start_s) >= SHORT_TERM_S for moment in moments):
            moments.append(Moment(start_s, start_s + width / 10, mean_db))
    return tuple(moments)
