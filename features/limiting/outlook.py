"""Limiter outlook: how loud before limiting is heard.

The limiter is a plain one.
The mix is driven into the reference limiter (`features.processors.dynamics.limiter`), from the point where its true peak touches the
ceiling upwards. Loudness is that of the whole song; damage is read on its densest stretch, where it shows first. Four readings
decide, each with a limit of its own (`features.limiting.sweep`): distortion, pumping, hits, density. The loudness at which the first of
them passes its limit is the clean loudness. Both a gentle and a fast setting are tried, since a fast one buys loudness with
distortion and a gentle one with pumping.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.limiting.drive import STEPS_PER_S, Steps, hardest_moments
from features.limiting.peak_share import peak_shares
from features.limiting.sweep import DRIVES_DB, MOST_DRIVE_DB, DrivenSong, Excerpt, Sweep, drive_to, short_sweep, sweep, take_excerpt
from features.loudness.densest import Densest
from features.processors.dynamics.limiter import ENVELOPE_FILTER, FAST, GENTLE, fill_envelope
from features.records.base import Absence, Span
from features.records.hits import Hits
from features.records.level import Level
from features.records.outlook import Outlook
from features.sound.interpolation import interpolation_taps
from features.sound.k_weighting import STATE_SIZE, energies, k_weighting
from features.sound.measurement import Given, Trace, measurement, meter
from features.sound.signal import Samples, Source

LEAD = ENVELOPE_FILTER[1] // 2 - 1  # frames the interpolation needs before the first
AHEAD = ENVELOPE_FILTER[1] // 2  # and after the last


@dataclass(frozen=True, slots=True)
class OutlookGoal(Given):
    """The loudness asked for, and the limiter's ceiling.

    Not ``thorough`` leaves out the fast setting and all of the curve that the clean loudness does not need; for trials.
    """

    target_lufs: float
    ceiling_dbtp: float
    thorough: bool = True


@dataclass(frozen=True, slots=True)
class OutlookTrace(Trace):
    """Peaks and energies of a whole song per millisecond.

    8 bytes each, 58 MB for two hours.
    """

    rate_hz: int
    channels: int
    frames: int
    steps: Steps


def _edges(rate_hz: int, first: int, last: int) -> NDArray[np.int64]:
    """Return the frames at which steps ``first`` to ``last`` start: ``round(k rate / 1000)``, halves up."""
    return (2 * np.arange(first, last + 1, dtype=np.int64) * rate_hz + STEPS_PER_S) // (2 * STEPS_PER_S)


def _joined(parts: list[NDArray[np.float32]]) -> NDArray[np.float32]:
    """Join the parts and let go of them."""
    whole = np.concatenate(parts) if parts else np.zeros(0, np.float32)
    parts.clear()
    return whole


@meter("outlook")
class OutlookMeter:
    """Measures an `OutlookTrace` block by block."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare for sound of ``channels`` (1 or 2) at ``rate_hz``."""
        self._rate_hz, self._channels = rate_hz, channels
        self._taps = interpolation_taps(*ENVELOPE_FILTER)
        self._filters, self._state = k_weighting(rate_hz), np.zeros(STATE_SIZE)
        self._pending = np.zeros((channels, LEAD), np.float32)  # frames from `_from - LEAD` on
        self._from = 0  # first frame of the next step
        self._done = 0  # steps
        self._frames = 0
        self._peaks: list[NDArray[np.float32]] = []
        self._powers: list[NDArray[np.float32]] = []

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        self._frames += block.shape[1]
        self._pending = np.concatenate((self._pending, block), axis=1)
        known = max(self._frames - AHEAD, 0)
        last = STEPS_PER_S * known // self._rate_hz + 1
        while last > self._done and _edges(self._rate_hz, last, last)[0] > known:
            last -= 1
        if last > self._done:
            self._take(_edges(self._rate_hz, self._done, last))

    def _take(self, edges: NDArray[np.int64]) -> None:
        count = int(edges[-1] - edges[0])
        envelope = np.empty(count, np.float32)
        around = np.ascontiguousarray(self._pending[:, : LEAD + count + AHEAD])  # over rows with gaps the kernel does not vectorise
        fill_envelope(around, self._taps, 0.0, envelope)
        first, second = self._pending[0, LEAD:], self._pending[-1, LEAD:]
        channels = energies(first, second, edges - edges[0], self._filters, self._state)
        energy = channels[0] + channels[1] if self._channels > 1 else channels[0]
        self._peaks.append(np.maximum.reduceat(envelope, edges[:-1] - edges[0]))
        self._powers.append(energy.astype(np.float32))
        self._pending = self._pending[:, count:].copy()
        self._done += edges.size - 1
        self._from += count

    def finish(self) -> OutlookTrace:
        """Return the trace.

        A last step may be shorter than a millisecond.
        """
        self._pending = np.pad(self._pending, ((0, 0), (0, AHEAD)))
        edges = _edges(self._rate_hz, self._done, int(np.ceil(self._frames * STEPS_PER_S / self._rate_hz)) + 1)
        edges = np.append(edges[edges < self._frames], self._frames)
        if edges.size > 1:
            self._take(edges)
        envelope, energy = _joined(self._peaks), _joined(self._powers)
        return OutlookTrace(self._rate_hz, self._channels, self._frames, Steps(envelope, energy))


@measurement
def measure_outlook(source: Source, trace: OutlookTrace, level: Level, densest: Densest, hits: Hits | None, goal: OutlookGoal) -> Outlook:
    """Return how loud a song can go into the limiter.

    Parameters
    ----------
    source
        The song; only the densest stretch is read.
    trace
        The song's trace.
    level
        The song's; its true peak is what is driven to the ceiling.
    densest
        The stretch on which damage is read.
    hits
        Those of the whole song; without any the hits cannot stop the drive.
    goal
        What is asked for.
    """
    true_peak = 0.0 if level.true_peak_dbtp is None else 10.0 ** (level.true_peak_dbtp / 20.0)
    return limiter_outlook(source, trace, true_peak, densest.span, () if hits is None else hits.times_s, goal)


def limiter_outlook(
    source: Source, trace: OutlookTrace, true_peak: float, densest: Span, hit_times_s: tuple[float, ...], goal: OutlookGoal
) -> Outlook:
    """Return the outlook of a sound known only in part.

    Less is known than of a whole song.

    Parameters
    ----------
    source, trace, densest, goal
        As for `measure_outlook`.
    true_peak
        The sound's highest true peak, linear.
    hit_times_s
        Starts of its hits.

    Notes
    -----
    ``drive_to_target_db`` is negative when the song passes the target with its peak at the ceiling and no limiting at all;
    nothing is above the ceiling then, and ``peak_share`` and ``hardest`` are empty. Where the target is out of reach they are
    taken at the highest drive.
    """
    peak = max(true_peak, float(trace.steps.envelope.max(initial=0.0)))
    excerpt = take_excerpt(source, trace.steps, densest, hit_times_s, peak) if trace.steps.integrated_lufs() is not None else None
    if excerpt is None:
        short = trace.frames < 0.4 * trace.rate_hz
        return _nothing(densest, goal, "shorter than 400 ms" if short else "silent or nearly so")
    song = DrivenSong(trace.steps, excerpt, peak, goal.ceiling_dbtp, GENTLE)
    gentle = sweep(song, goal.target_lufs) if goal.thorough else short_sweep(song, goal.target_lufs)
    fast = sweep(DrivenSong(trace.steps, excerpt, peak, goal.ceiling_dbtp, FAST), goal.target_lufs) if goal.thorough else None
    return _record(gentle, fast, song, trace, excerpt, goal)


def _record(gentle: Sweep, fast: Sweep | None, song: DrivenSong, trace: OutlookTrace, excerpt: Excerpt, goal: OutlookGoal) -> Outlook:
    wanted = drive_to(gentle.loudness, goal.target_lufs)
    threshold = song.threshold(MOST_DRIVE_DB if wanted is None else wanted)
    absent = [] if wanted is not None else [Absence("drive_to_target_db", f"not reached at {DRIVES_DB[-1]:.0f} dB of drive")]
    if fast is None:
        absent.append(Absence("fast_clean_lufs", "the fast setting was left out"))
    return Outlook(
        clean_lufs=gentle.clean_lufs,
        target_lufs=goal.target_lufs,
        ceiling_dbtp=goal.ceiling_dbtp,
        margin_lu=gentle.clean_lufs - goal.target_lufs,
        reaches_target=gentle.clean_lufs >= goal.target_lufs,
        stopped_by=gentle.stopped_by,
        drive_db=gentle.drive_db,
        drive_to_target_db=wanted,
        curve=gentle.curve,
        fast_clean_lufs=None if fast is None else fast.clean_lufs,
        fast_stopped_by="none" if fast is None else fast.stopped_by,
        fast_curve=() if fast is None else fast.curve,
        peak_share=peak_shares(excerpt.samples, excerpt.rate_hz, threshold),
        hardest=hardest_moments(trace.steps.gain(threshold, GENTLE)),
        excerpt=excerpt.span,
        absent=tuple(absent),
    )


def _nothing(densest: Span, goal: OutlookGoal, reason: str) -> Outlook:
    names = ("clean_lufs", "margin_lu", "reaches_target", "drive_db", "drive_to_target_db", "fast_clean_lufs")
    return Outlook(
        clean_lufs=None, target_lufs=goal.target_lufs, ceiling_dbtp=goal.ceiling_dbtp, margin_lu=None, reaches_target=None,
        stopped_by="none", drive_db=None, drive_to_target_db=None, curve=(), fast_clean_lufs=None, fast_stopped_by="none", fast_curve=(),
        peak_share=(), hardest=(), excerpt=densest, absent=tuple(Absence(name, f"the song is {reason}") for name in names),
    )  # fmt: skip
