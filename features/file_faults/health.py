"""Faults of the file itself.

Clipping, offset, bit depth, bandwidth, hum, clicks, noise, cut ends, channels, gaps.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.file_faults.bandwidth import find_wall
from features.file_faults.bit_depth import effective_bits
from features.file_faults.clicks import MOST_PLACES, find_clicks, find_gaps
from features.file_faults.clipping import clipping_of
from features.file_faults.ends import Ends, head_cut_dbfs, tail_cut_dbfs
from features.file_faults.hum import QuietSpans, find_hum
from features.file_faults.noise_floor import QuietestHalf, noise_floor_dbfs
from features.file_faults.sample_scan import (
    BITS,
    FINE,
    FIRST_SOUND,
    FULL_SCALE,
    HIGHEST,
    LAST_SOUND,
    LOWEST,
    TOTAL,
    ChannelScan,
    SampleScan,
)
from features.loudness.level import LevelTrace
from features.records.base import Absence, Span
from features.records.file import File, Health
from features.sound.measurement import Given, Trace, measurement, meter
from features.sound.signal import Samples
from features.sound.spectrogram import Spectrogram

Floats = NDArray[np.float64]

SILENT_PEAK = 10.0 ** (-70.0 / 20.0)
EMPTY_CHANNEL_PEAK = 10.0 ** (-90.0 / 20.0)
OVER = 1.00001  # a peak at full scale, give or take rounding, does not pass it


@dataclass(frozen=True, slots=True)
class NotFinite(Given):
    """The samples that were no number.

    They read as zero and are counted once the sound was read.
    """

    count: Callable[[], int]


@dataclass(frozen=True, slots=True)
class HealthTrace(Trace):
    """What one pass over the samples has kept for `measure_health`."""

    rate_hz: int
    frames: int
    bits: int | None
    lossy: bool
    scans: tuple[ChannelScan, ...]
    same: bool
    ends: Ends
    quiet: QuietSpans
    quietest: QuietestHalf


@meter("health")
class HealthMeter:
    """Scans a stream for faults.

    Memory grows only with the number of faults found.
    """

    def __init__(self, rate_hz: int, channels: int, file: File) -> None:
        """Prepare for what ``file`` says of itself."""
        self._rate_hz, self._bits, self._lossy = rate_hz, file.bits, file.lossy
        self._scan = SampleScan(rate_hz, channels)
        self._ends = Ends(rate_hz, channels)
        self._quiet = QuietSpans(rate_hz, channels)
        self._quietest = QuietestHalf(rate_hz, channels)
        self._same = True

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        if block.shape[1] == 0:
            return
        self._scan.push(block)
        self._ends.push(block)
        self._quiet.push(block)
        self._quietest.push(block)
        self._same = self._same and bool(np.array_equal(block[0], block[-1]))

    def finish(self) -> HealthTrace:
        """Return what was found."""
        scans = tuple(self._scan.finish())
        return HealthTrace(
            self._rate_hz, self._scan.frames, self._bits, self._lossy, scans, self._same, self._ends, self._quiet, self._quietest
        )


def _peak(scan: ChannelScan) -> float:
    return float(max(scan.state[HIGHEST], -scan.state[LOWEST])) / FULL_SCALE


def _offset_dbfs(scan: ChannelScan, frames: int) -> float | None:
    """Return the channel's mean in dBFS, at least -200; ``None`` for an empty channel."""
    if frames == 0 or _peak(scan) < EMPTY_CHANNEL_PEAK:
        return None
    return float(20.0 * np.log10(max(abs(_offset(scan, frames)), 1e-10)))


def _offset(scan: ChannelScan, frames: int) -> float:
    return float(scan.state[TOTAL]) / max(frames, 1) / FULL_SCALE


def _overs(level_trace: LevelTrace) -> int:
    """Return how many separate runs of 10 ms steps pass 0 dBTP in any channel."""
    over = np.asarray(level_trace.true_peak).max(axis=0, initial=0.0) > OVER
    return int(np.count_nonzero(over & ~np.concatenate([[False], over[:-1]]))) if over.size else 0


def _silences(trace: HealthTrace) -> tuple[float, float]:
    """Return the silence before the first and after the last sample above -60 dBFS; a silent file is all head."""
    firsts = [int(scan.state[FIRST_SOUND]) for scan in trace.scans if scan.state[FIRST_SOUND] >= 0]
    lasts = [int(scan.state[LAST_SOUND]) for scan in trace.scans if scan.state[FIRST_SOUND] >= 0]
    if not firsts:
        return trace.frames / trace.rate_hz, 0.0
    return min(firsts) / trace.rate_hz, max(trace.frames - 1 - max(lasts), 0) / trace.rate_hz


def _bits(trace: HealthTrace, file: File) -> tuple[int | None, str]:
    if trace.lossy:
        return None, "a lossy format has no grid of values"
    used, finer, small = 0, 0, np.zeros_like(trace.scans[0].small)
    for scan in trace.scans:
        used |= int(scan.state[BITS])
        finer += int(scan.state[FINE])
        small |= scan.small
    floating = trace.bits is None or file.subtype.upper() in {"FLOAT", "DOUBLE"}
    return effective_bits(used, finer, small, trace.bits, floating=floating)


def _names(trace: HealthTrace) -> tuple[str, ...]:
    names = ("left", "right") if len(trace.scans) == 2 else ("mono",)
    return tuple(name for name, scan in zip(names, trace.scans, strict=True) if _peak(scan) < EMPTY_CHANNEL_PEAK)


@dataclass(frozen=True, slots=True)
class _Background:
    """Readings that need sound: noise, hum, bandwidth and cut ends, each possibly ``None``."""

    noise_floor_dbfs: float | None = None
    hum_hz: float | None = None
    hum_dbfs: float | None = None
    bandwidth_hz: float | None = None
    bandwidth_wall_db: float | None = None
    head_cut_dbfs: float | None = None
    tail_cut_dbfs: float | None = None
    absent: tuple[Absence, ...] = ()


def _background(trace: HealthTrace, level_trace: LevelTrace, spectrogram: Spectrogram) -> _Background:
    energy = np.asarray(level_trace.energy, np.float64).mean(axis=0)
    sounding = energy[energy > max(float(energy.max(initial=0.0)) * 1e-5, 1e-12)]
    song_dbfs = float(10.0 * np.log10(sounding.mean())) if sounding.size else -200.0
    offset = np.array([[_offset(scan, trace.frames)] for scan in trace.scans])
    floor, why = noise_floor_dbfs(trace.quietest, song_dbfs)
    hum = find_hum(trace.quiet)
    wall = find_wall(np.asarray(spectrogram.fine_hz), np.asarray(spectrogram.fine_left + spectrogram.fine_right))
    missing = (
        ("noise_floor_dbfs", floor, why),
        ("hum_hz", hum, "no steady mains lines in the quietest stretches"),
        ("hum_dbfs", hum, "no hum"),
        ("bandwidth_hz", wall, "the spectrum has no wall"),
        ("bandwidth_wall_db", wall, "the spectrum has no wall"),
    )
    return _Background(
        noise_floor_dbfs=floor,
        hum_hz=hum.mains_hz if hum else None,
        hum_dbfs=hum.level_dbfs if hum else None,
        bandwidth_hz=wall.frequency_hz if wall else None,
        bandwidth_wall_db=wall.height_db if wall else None,
        head_cut_dbfs=head_cut_dbfs(trace.ends.head, trace.rate_hz, song_dbfs, offset.astype(np.float32)),
        tail_cut_dbfs=tail_cut_dbfs(trace.ends.tail, trace.rate_hz, song_dbfs),
        absent=tuple(Absence(name, reason) for name, value, reason in missing if value is None),
    )


def _silent_background() -> _Background:
    names = ("noise_floor_dbfs", "hum_hz", "hum_dbfs", "bandwidth_hz", "bandwidth_wall_db")
    return _Background(absent=tuple(Absence(name, "the file is silent") for name in names))


@measurement
def measure_health(trace: HealthTrace, level_trace: LevelTrace, spectrogram: Spectrogram, file: File, not_finite: NotFinite) -> Health:
    """Return the faults of a file.

    Parameters
    ----------
    trace
        From `HealthMeter`.
    level_trace, spectrogram
        Peaks and energies, and the long-term spectrum, of the same sound.
    file
        What the file says of itself.
    not_finite
        Samples that were no number and were read as zero.
    """
    silent = max(_peak(scan) for scan in trace.scans) < SILENT_PEAK
    clipping = clipping_of(trace.scans)
    gaps: tuple[Span, ...] = find_gaps([scan.rows(scan.zeros, 4) for scan in trace.scans], trace.rate_hz, trace.frames)
    clicks = find_clicks([scan.rows(scan.jumps, 3) for scan in trace.scans], gaps, trace.rate_hz, trace.frames)
    bits, bits_reason = _bits(trace, file)
    background = _silent_background() if silent else _background(trace, level_trace, spectrogram)
    head_s, tail_s = _silences(trace)
    absent = list(background.absent)
    absent += [Absence("effective_bits", bits_reason)] if bits is None else []
    absent += [Absence("clip_level_dbfs", "no clipping")] if clipping.level_dbfs is None else []
    offsets = tuple(_offset_dbfs(scan, trace.frames) for scan in trace.scans)
    absent += [Absence("dc_dbfs", "a channel holds nothing")] if None in offsets else []
    return Health(
        clipped_runs=clipping.runs,
        clipped_longest=clipping.longest,
        clipped=clipping.where,
        clip_level_dbfs=clipping.level_dbfs,
        inter_sample_overs=_overs(level_trace),
        dc_dbfs=offsets,
        effective_bits=bits,
        bandwidth_hz=background.bandwidth_hz,
        bandwidth_wall_db=background.bandwidth_wall_db,
        hum_hz=background.hum_hz,
        hum_dbfs=background.hum_dbfs,
        clicks=clicks[:MOST_PLACES],
        click_count=len(clicks),
        noise_floor_dbfs=background.noise_floor_dbfs,
        head_silence_s=head_s,
        tail_silence_s=tail_s,
        head_cut_dbfs=background.head_cut_dbfs,
        tail_cut_dbfs=background.tail_cut_dbfs,
        identical_channels=len(trace.scans) == 2 and trace.frames > 0 and trace.same and not silent,
        silent_channels=_names(trace),
        silent=silent,
        gaps=gaps,
        not_finite=not_finite.count(),
        absent=tuple(absent),
    )
