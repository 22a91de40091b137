"""A group of elements.

Its loudness, and what its bus can take: glue, a limiter for stray peaks, parallel compression.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.elements.dynamics.envelope import STEP_S, EnvelopeMeter, EnvelopeTrace
from features.elements.groups.glue import NeedleReader
from features.elements.groups.parallel import RATIO, TIMING, find_blend
from features.elements.groups.strays import find_strays
from features.loudness.gating import integrated_from_steps
from features.records.base import Span
from features.records.elements import ElementGroup, GroupName
from features.sound.k_weighting import STATE_SIZE, STEPS_PER_S, energies, k_weighting, step_edges
from features.sound.signal import Samples, Signal

Floats = NDArray[np.float64]

LOUDEST_S = 30.0
PLAYING_DB = 40.0  # below its highest peak a group does not play


@dataclass(frozen=True, slots=True)
class GroupTrace:
    """Envelope and loudness energy of a group.

    The envelope, and the K-weighted energy of all channels in each 10 ms, shape ``(steps,)``.
    """

    envelope: EnvelopeTrace
    k_energy: Floats


class GroupMeter:
    """Measures a `GroupTrace` of a group's sum, block by block."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare for sound of ``channels`` (1 or 2) at ``rate_hz``."""
        self.rate_hz = rate_hz
        self.channels = channels
        self._envelope = EnvelopeMeter(rate_hz, channels)
        self._filters = k_weighting(float(rate_hz))
        self._state = np.zeros(STATE_SIZE)
        self._rest = np.zeros((channels, 0), np.float32)
        self._first = self._steps = 0
        self._k_energy: list[Floats] = []

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        self._envelope.push(block)
        joined = np.concatenate([self._rest, block], axis=1)
        last = max((2 * (self._first + joined.shape[1]) - 1) * STEPS_PER_S // (2 * self.rate_hz), self._steps)
        if last > self._steps:
            edges = step_edges(self.rate_hz, self._steps, last) - self._first
            left, right = np.ascontiguousarray(joined[0]), np.ascontiguousarray(joined[-1])
            means = energies(left, right, edges, self._filters, self._state)
            self._k_energy.append(means[0] + means[1] if self.channels == 2 else means[0])
            joined = joined[:, edges[-1] :].copy()
            self._first, self._steps = self._first + int(edges[-1]), last
        self._rest = joined

    def finish(self) -> GroupTrace:
        """Return the trace, of whole steps. No `push` after it."""
        return GroupTrace(self._envelope.finish(), np.concatenate(self._k_energy) if self._k_energy else np.zeros(0))


def loudest_stretch(trace: GroupTrace, duration_s: float = LOUDEST_S) -> Span | None:
    """Return the group's loudest half-minute.

    The whole when it is shorter; ``None`` for silence.
    """
    energy = trace.k_energy
    if not energy.size or not energy.max() > 0.0:
        return None
    width = min(round(duration_s * STEPS_PER_S), energy.size)
    total = np.concatenate([[0.0], np.cumsum(energy)])
    start = int(np.argmax(total[width:] - total[:-width]))
    return Span(start / STEPS_PER_S, min((start + width) / STEPS_PER_S, trace.envelope.duration_s))


def measure_group(name: GroupName, members: tuple[str, ...], trace: GroupTrace, loudest: Signal | None) -> ElementGroup:
    """Measure a group.

    Parameters
    ----------
    name, members
        The group and the elements in it.
    trace
        Of their sum, at its level in the mix.
    loudest
        The sum's sound in `loudest_stretch`, which the compressors are set on; without it they are not measured.

    Notes
    -----
    Stray peaks are counted per minute in which the group plays (within 40 dB of its highest peak, gaps under a second filled).
    """
    peak = trace.envelope.peak
    strays = find_strays(peak, _playing_s(peak)) if peak.max(initial=0.0) > 0.0 else None
    reader = NeedleReader(loudest) if loudest is not None and loudest.frames else None
    blend = find_blend(loudest) if loudest is not None else None
    return ElementGroup(
        name=name,
        members=members,
        integrated_lufs=integrated_from_steps(trace.k_energy),
        glue_2_dbfs=reader.threshold(2.0) if reader else None,
        glue_4_dbfs=reader.threshold(4.0) if reader else None,
        stray_peaks_per_minute=strays.per_minute if strays else None,
        stray_peaks=strays.moments() if strays else (),
        ceiling_dbfs=strays.ceiling_dbfs if strays else None,
        resting_share=strays.resting_share if strays else None,
        parallel_threshold_dbfs=blend.threshold_dbfs if blend else None,
        parallel_blend_db=blend.blend_db if blend else None,
        parallel_lift_db=blend.lift_db if blend else None,
        parallel_peak_rise_db=blend.peak_rise_db if blend else None,
        parallel_ratio=RATIO if blend else None,
        parallel_attack_ms=TIMING.attack_ms if blend else None,
        parallel_release_ms=TIMING.release_ms if blend else None,
    )


def _playing_s(peak: NDArray[np.float32]) -> float:
    """Return for how long a group plays."""
    width = round(1.0 / STEP_S)
    padded = np.pad(peak, (0, -peak.size % width))
    seconds = padded.reshape(-1, width).max(axis=1)
    return float(np.count_nonzero(seconds > seconds.max() * 10 ** (-PLAYING_DB / 20)))
