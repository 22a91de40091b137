"""Loudness and peaks over time and of the whole song.

ITU-R BS.1770-5, EBU Tech 3341 and 3342.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.loudness.gating import (
    ABSOLUTE_GATE_LUFS,
    BLOCK_STEPS,
    SHORT_TERM_STEPS,
    energy_at,
    gated_loudness,
    integrated_from_steps,
    loudness,
    loudness_range,
    sliding_means,
)
from features.loudness.true_peak import AHEAD, BACK, SPAN, interpolator, oversampling, step_peaks
from features.records.base import Absence, Course, Moment, Span
from features.records.level import Level
from features.records.sections import Sections
from features.sound.decibels import amplitude_to_db
from features.sound.k_weighting import STATE_SIZE, STEPS_PER_S, energies, k_weighting, step_edges
from features.sound.measurement import Trace, measurement, meter
from features.sound.signal import Samples

__all__ = [
    "LevelMeter",
    "LevelTrace",
    "channel_loudness",
    "gated_loudness",
    "integrated_from_steps",
    "loudness",
    "loudness_range",
    "measure_level",
    "mono_fold_loudness",
    "stretch_loudness",
]

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

STEP_S = 1.0 / STEPS_PER_S
LOUD_ENOUGH_LU = 10.0  # below the loudest 3 s: quieter windows say nothing about squashed peaks
FULL_SCALE = 1.00001  # a peak at full scale, give or take rounding, does not pass it
JOINED_STEPS = 10  # overs less than 100 ms apart are one stretch
MOST_STRETCHES = 20


@dataclass(frozen=True, slots=True)
class LevelTrace(Trace):
    """Energies and peaks of every 10 ms step.

    Step ``k`` starts at frame ``round(k rate / 100)``.

    Attributes
    ----------
    rate_hz, channels, frames
        Of the sound; the last step may be shorter than 10 ms.
    k_energy, energy
        Mean square per channel, K-weighted and plain, shape ``(channels, steps)``.
    k_cross, cross
        Mean product of left and right, K-weighted and plain, shape ``(steps,)``; for mono the same as the energy.
    sample_peak, true_peak
        Highest sample, and highest value between samples too, linear, shape ``(channels, steps)``, float32.
    """

    rate_hz: int
    channels: int
    frames: int
    k_energy: Floats
    k_cross: Floats
    energy: Floats
    cross: Floats
    sample_peak: Singles
    true_peak: Singles

    @property
    def steps(self) -> int:
        """Number of steps, a short last one included."""
        return int(self.k_energy.shape[1])

    @property
    def whole_steps(self) -> int:
        """Number of steps of full length."""
        return self.steps - int(self.steps > 0 and step_edges(self.rate_hz, self.steps, self.steps)[0] > self.frames)

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate_hz

    def k_sum(self) -> Floats:
        """K-weighted energy of all channels together, whole steps only.

        Shape ``(whole_steps,)``.
        """
        total: Floats = self.k_energy[:, : self.whole_steps].sum(axis=0)
        return total


@meter("level")
class LevelMeter:
    """Measures a `LevelTrace` block by block."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare for sound of ``channels`` (1 or 2) at ``rate_hz``."""
        self.rate_hz = rate_hz
        self.channels = channels
        self._filters = k_weighting(float(rate_hz))
        self._state = np.zeros(STATE_SIZE)
        self._interpolator = interpolator(oversampling(rate_hz))
        self._frames = 0
        self._steps = 0
        # Silence before the song: the wave between samples may already rise there.
        self._before = BACK + AHEAD
        self._rest = np.zeros((channels, self._before), np.float32)
        self._energies: list[Floats] = []
        self._peaks: list[Singles] = []

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        self._frames += block.shape[1]
        joined = np.concatenate([self._rest, block], axis=1)
        last = max((self._frames - AHEAD - SPAN) * STEPS_PER_S // self.rate_hz - 1, self._steps)
        self._rest = joined
        if last > self._steps:
            self._measure(step_edges(self.rate_hz, self._steps, last), trailing=0)

    def _measure(self, edges: NDArray[np.int64], trailing: int) -> None:
        """Measure the steps between ``edges`` (frames of the song) and keep what the next ones need."""
        wave, origin = self._rest, self._frames + trailing - self._rest.shape[1]
        inside = edges - origin
        self._energies.append(energies(wave[0], wave[-1], inside, self._filters, self._state))
        around = inside.copy()
        if self._steps == 0:
            around[0] -= AHEAD
        around[-1] += AHEAD if trailing else 0
        tool = self._interpolator
        channels = [step_peaks(row, around, tool.phases, tool.gain, tool.slope_gain) for row in wave]
        self._peaks.append(np.stack([np.stack(peaks) for peaks in channels], axis=1))
        self._steps += len(edges) - 1
        self._rest = wave[:, inside[-1] - BACK :].copy()

    def finish(self) -> LevelTrace:
        """Return the trace. No `push` after it."""
        last = -(-self._frames * STEPS_PER_S // self.rate_hz)
        edges = np.minimum(step_edges(self.rate_hz, self._steps, last), self._frames)
        edges = edges[: max(int(np.searchsorted(edges, self._frames)) + 1, 1)]
        if len(edges) > 1:
            trailing = 2 * (AHEAD + SPAN)
            self._rest = np.pad(self._rest, ((0, 0), (0, trailing)))
            self._measure(edges, trailing)
        rows = range(self.channels)
        trace = LevelTrace(
            rate_hz=self.rate_hz,
            channels=self.channels,
            frames=self._frames,
            k_energy=np.stack([self._energy(row) for row in rows]),
            k_cross=self._energy(2),
            energy=np.stack([self._energy(3 + row) for row in rows]),
            cross=self._energy(5),
            sample_peak=np.concatenate([np.zeros((self.channels, 0), np.float32), *(peaks[0] for peaks in self._peaks)], axis=1),
            true_peak=np.concatenate([np.zeros((self.channels, 0), np.float32), *(peaks[1] for peaks in self._peaks)], axis=1),
        )
        self._energies, self._peaks = [], []
        return trace

    def _energy(self, row: int) -> Floats:
        """One row of all energies, joined over the blocks."""
        return np.concatenate([np.zeros(0), *(products[row] for products in self._energies)])


def channel_loudness(trace: LevelTrace) -> tuple[float | None, ...]:
    """Return each channel's integrated loudness in LUFS.

    By itself (the other silent); ``None`` where it is silent.
    """
    return tuple(integrated_from_steps(row[: trace.whole_steps]) for row in trace.k_energy)


def mono_fold_loudness(trace: LevelTrace) -> float | None:
    """Return the integrated loudness of the mono fold, in LUFS.

    ``(L + R) / 2`` from both loudspeakers, so that a centred sound loses nothing.

    Notes
    -----
    Energy of the fold, played twice: ``2 mean(((L + R) / 2)**2) = (LL + RR + 2 LR) / 2``. Out-of-phase sound: ``None``.
    A mono trace gives the loudness of the same sound in both channels.
    """
    whole = trace.whole_steps
    left, right = trace.k_energy[0, :whole], trace.k_energy[-1, :whole]
    return integrated_from_steps(np.maximum((left + right) / 2 + trace.k_cross[:whole], 0.0))


def stretch_loudness(trace: LevelTrace, span: Span) -> float | None:
    """Return the gated loudness of a stretch, in LUFS.

    ``None`` when shorter than 400 ms or silent.
    """
    return integrated_from_steps(trace.k_sum()[round(span.start_s * STEPS_PER_S) : round(span.end_s * STEPS_PER_S)])


@measurement
def measure_level(trace: LevelTrace, sections: Sections | None = None) -> Level:
    """Return loudness, loudness range and peaks of the whole song.

    Parameters
    ----------
    trace
        From `LevelMeter`.
    sections
        ``psr_densest_db`` is read over their densest stretch; over the whole song when not given.

    Notes
    -----
    Integrated loudness: BS.1770-5, Annex 1. Momentary and short-term maxima: 400 ms and 3 s windows every 10 ms, since
    windows every 100 ms miss short events by up to 0.45 LU (EBU Tech 3341, case 13). Loudness range: EBU Tech 3342, which
    does not recommend it for programmes shorter than 60 s. PLR: true peak minus integrated loudness (EBU R 128). PSR: the
    same over each 3 s window; the smallest is looked for within 10 LU of the loudest window.
    """
    k_sum = trace.k_sum()
    densest = None if sections is None else sections.densest
    values: dict[str, float | None] = {"integrated_lufs": integrated_from_steps(k_sum)}
    values["momentary_max_lufs"], values["momentary_max_at_s"] = _loudest(k_sum, BLOCK_STEPS)
    values["short_term_max_lufs"], _ = _loudest(k_sum, SHORT_TERM_STEPS)
    values["loudness_range_lu"] = loudness_range(k_sum)
    highest = trace.true_peak.max(axis=0, initial=0.0)
    values["true_peak_dbtp"] = amplitude_to_db(highest.max(initial=0.0))
    values["true_peak_at_s"] = None if values["true_peak_dbtp"] is None else int(np.argmax(highest)) * STEP_S
    values["sample_peak_dbfs"] = amplitude_to_db(trace.sample_peak.max(initial=0.0))
    values["plr_db"] = _difference(values["true_peak_dbtp"], values["integrated_lufs"])
    short_term, psr = _courses(k_sum, highest)
    values["psr_min_db"], values["psr_min_at_s"] = _smallest_psr(short_term, psr)
    values["psr_densest_db"] = _median_psr(psr, densest)
    return Level(
        **values,
        short_term=short_term,
        psr=psr,
        peaks_over_full_scale=_overs(highest, trace.duration_s),
        absent=_absences(values, len(k_sum), densest),
    )


def _difference(first: float | None, second: float | None) -> float | None:
    return None if first is None or second is None else first - second


def _loudest(k_sum: Floats, width: int) -> tuple[float | None, float | None]:
    """Loudness of the loudest window of ``width`` steps, and where it starts."""
    means = sliding_means(k_sum, width)
    if len(means) == 0 or means.max() <= energy_at(ABSOLUTE_GATE_LUFS):
        return None, None
    place = int(np.argmax(means))
    return loudness(float(means[place])), place * STEP_S


def _courses(k_sum: Floats, highest: Singles) -> tuple[Course, Course]:
    """Short-term loudness and PSR of the 3 s windows that start at 0 s, 1 s, 2 s and so on."""
    means = sliding_means(k_sum, SHORT_TERM_STEPS, STEPS_PER_S)
    quiet = energy_at(ABSOLUTE_GATE_LUFS)
    levels = [None if mean <= quiet else loudness(float(mean)) for mean in means]
    tops = [highest[STEPS_PER_S * i : STEPS_PER_S * i + SHORT_TERM_STEPS].max() for i in range(len(levels))]
    ratios = [_difference(amplitude_to_db(top), level) for top, level in zip(tops, levels, strict=True)]
    centre_s = SHORT_TERM_STEPS * STEP_S / 2
    return Course("LUFS", centre_s, 1.0, tuple(levels)), Course("dB", centre_s, 1.0, tuple(ratios))


def _smallest_psr(short_term: Course, psr: Course) -> tuple[float | None, float | None]:
    loudest = max((level for level in short_term.values if level is not None), default=None)
    if loudest is None:
        return None, None
    pairs = zip(short_term.values, psr.values, strict=True)
    usable = [
        (ratio, float(second))
        for second, (level, ratio) in enumerate(pairs)
        if level is not None and ratio is not None and level >= loudest - LOUD_ENOUGH_LU
    ]
    return min(usable)


def _median_psr(psr: Course, densest: Span | None) -> float | None:
    """Median over the windows whose centre lies in ``densest``."""
    span = densest or Span(0.0, np.inf)
    values = [
        value for i, value in enumerate(psr.values) if value is not None and span.start_s <= psr.start_s + i * psr.step_s <= span.end_s
    ]
    return float(np.median(values)) if values else None


def _overs(highest: Singles, duration_s: float) -> tuple[Moment, ...]:
    """Stretches that pass full scale, joined over short pauses, highest first."""
    places = np.flatnonzero(highest > FULL_SCALE)
    if len(places) == 0:
        return ()
    runs = np.split(places, np.flatnonzero(np.diff(places) > JOINED_STEPS) + 1)
    moments = list(_moments(runs, highest, duration_s))
    return tuple(sorted(moments, key=lambda moment: (-moment.value, moment.start_s))[:MOST_STRETCHES])


def _moments(runs: Iterable[NDArray[np.intp]], highest: Singles, duration_s: float) -> Iterable[Moment]:
    for run in runs:
        first, last = int(run[0]), int(run[-1])
        peak = amplitude_to_db(highest[first : last + 1].max())
        if peak is not None:
            yield Moment(first * STEP_S, min((last + 1) * STEP_S, duration_s), peak)


def _absences(values: dict[str, float | None], steps: int, densest: Span | None) -> tuple[Absence, ...]:
    return tuple(Absence(name, _reason(name, steps, densest)) for name, value in values.items() if value is None)


def _reason(name: str, steps: int, densest: Span | None) -> str:
    if steps == 0:
        return "the sound is shorter than 10 ms"
    if name in {"true_peak_dbtp", "true_peak_at_s", "sample_peak_dbfs"}:
        return "every sample is zero"
    needed = BLOCK_STEPS if name in {"integrated_lufs", "momentary_max_lufs", "momentary_max_at_s", "plr_db"} else SHORT_TERM_STEPS
    if steps < needed:
        return f"the sound is shorter than {needed * STEP_S:.1f} s"
    if name == "psr_densest_db" and densest is not None:
        return "no 3 s window above -70 LUFS is centred in the densest section"
    return "nothing is louder than -70 LUFS"
