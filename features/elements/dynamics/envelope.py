"""The envelope of an element.

Peak and level of every millisecond, and its low end as a coarse wave.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.processors.equalisers.eq import low_pass_sections
from features.processors.equalisers.filters import Filter
from features.sound.compiled import kernel
from features.sound.signal import Samples

Singles = NDArray[np.float32]

STEPS_PER_S = 1000
STEP_S = 1.0 / STEPS_PER_S
QUARTERS = 4  # means of a quarter of a millisecond, from which the low end is filtered
LOW_PASS_HZ = 200.0
LOW_PASS_ORDER = 4
LOW_DELAY_S = 2.6131 / (2 * np.pi * LOW_PASS_HZ)  # of the low wave, at low frequencies: group delay of that Butterworth filter


@dataclass(frozen=True, slots=True)
class EnvelopeTrace:
    """One value of an element for each millisecond.

    Step ``k`` starts at frame ``round(k rate / 1000)``.

    Attributes
    ----------
    rate_hz, frames
        Of the sound.
    peak
        Highest magnitude of all channels, linear, shape ``(steps,)``, float32.
    mean_square
        Mean square of the step's louder channel, so that mono, the same in both channels, and one channel alone read alike, shape
        ``(steps,)``, float32.
    low
        The mean of the channels below 200 Hz (Butterworth, 24 dB per octave), sampled at the end of each step, 1 kHz, shape
        ``(steps,)``, float32. All elements go through the same filter, so their phases against one another are kept; it is late by
        `LOW_DELAY_S`.
    """

    rate_hz: int
    frames: int
    peak: Singles
    mean_square: Singles
    low: Singles

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate_hz


@kernel
def _fill(left: Singles, right: Singles, edges: NDArray[np.int64], out: Singles, quarter: Singles) -> None:
    """Write peak and mean square per step, shape ``(2, steps)``, and the mid's mean per quarter step, from the quarters' edges."""
    for step in range(out.shape[1]):
        peak = np.float32(0.0)
        left_sum = right_sum = 0.0
        for part in range(4):
            place = 4 * step + part
            total = 0.0
            for n in range(edges[place], edges[place + 1]):
                a, b = left[n], right[n]
                peak = max(peak, abs(a), abs(b))
                left_sum += a * a
                right_sum += b * b
                total += a + b
            quarter[place] = 0.5 * total / max(edges[place + 1] - edges[place], 1)
        out[0, step] = peak
        out[1, step] = max(left_sum, right_sum) / max(edges[4 * step + 4] - edges[4 * step], 1)


class EnvelopeMeter:
    """Measures an `EnvelopeTrace` block by block."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare for sound of ``channels`` (1 or 2) at ``rate_hz``."""
        self.rate_hz = rate_hz
        self._low_pass = Filter(low_pass_sections(QUARTERS * STEPS_PER_S, LOW_PASS_HZ, LOW_PASS_ORDER), 1)
        self._rest = np.zeros((channels, 0), np.float32)
        self._steps = 0
        self._first = 0  # frame of the song at which the rest starts
        self._readings: list[Singles] = []
        self._low: list[Singles] = []

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        joined = np.concatenate([self._rest, block], axis=1) if self._rest.shape[1] else block
        last = self._last_step(self._first + joined.shape[1])
        if last > self._steps:
            used = self._edges(last)[-1]
            self._measure(joined[:, :used], last)
            self._first += int(used)
            joined = joined[:, used:]
        self._rest = np.array(joined, np.float32)

    def finish(self) -> EnvelopeTrace:
        """Return the trace.

        No `push` after it. A shorter last step counts as one.
        """
        frames = self._first + self._rest.shape[1]
        if self._rest.shape[1]:
            self._measure(self._rest, self._steps + 1)
        readings = np.concatenate(self._readings, axis=1) if self._readings else np.zeros((2, 0), np.float32)
        low = np.concatenate(self._low) if self._low else np.zeros(0, np.float32)
        return EnvelopeTrace(self.rate_hz, frames, np.ascontiguousarray(readings[0]), np.ascontiguousarray(readings[1]), low)

    def _last_step(self, frames: int) -> int:
        """Return how many whole steps ``frames`` frames hold."""
        return max((2 * frames - 1) * STEPS_PER_S // (2 * self.rate_hz), 0)

    def _edges(self, last: int) -> NDArray[np.int64]:
        """Return where the quarters of the next steps start, counted from the first waiting frame."""
        place = np.arange(QUARTERS * self._steps, QUARTERS * last + 1, dtype=np.int64)
        per_s = QUARTERS * STEPS_PER_S
        return (2 * place * self.rate_hz + per_s) // (2 * per_s) - self._first

    def _measure(self, samples: Samples, last: int) -> None:
        edges = np.minimum(self._edges(last), samples.shape[1])
        count = last - self._steps
        out, quarter = np.empty((2, count), np.float32), np.empty(QUARTERS * count, np.float32)
        _fill(np.ascontiguousarray(samples[0]), np.ascontiguousarray(samples[-1]), edges, out, quarter)
        self._readings.append(out)
        self._low.append(self._low_pass.process(quarter[None])[0, QUARTERS - 1 :: QUARTERS].copy())
        self._steps = last
