"""Crest factor, level spread and jumps per octave band.

Bands are cut in the frequency domain: centres 31.5 Hz-16 kHz (IEC 61260-1 base-10 octaves), edges at half an octave, crossed over
two quarter octaves so that the powers of neighbours add up to one (cosine over log frequency). Each band's analytic signal is
computed at just the rate that its width needs: its magnitude is the band's envelope, so a "peak" does not depend on how the
sampling instants fall between the crests of the wave, and a steady sine has a crest factor of exactly 3.01 dB.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.loudness.gating import sliding_means
from features.loudness.level import LevelTrace
from features.loudness.peaks import measure_peaks
from features.records.base import Absence, Course, Moment
from features.records.crest import Crest
from features.records.hits import Hits
from features.records.sections import Sections
from features.sound import fourier
from features.sound.compiled import kernel
from features.sound.measurement import Trace, measurement, meter
from features.sound.signal import Samples
from features.sound.stream_buffer import StreamBuffer

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

OCTAVES = 10
OCTAVE_HZ = tuple(round(1000.0 * 10.0 ** (0.3 * k), 1) for k in range(-5, 5))
STEPS_PER_S = 100
CHUNK_S, MARGIN_S = 3, 0.25
CHUNKS_AT_ONCE = 4  # the transforms are twice as fast on four rows or more as on two
SKIRT_OCTAVES = 0.25
FLOOR_POWER = 1e-10  # -100 dBFS: below this a band holds nothing
GATE_DB = 25.0  # a band plays while its level is within this of its loud moments
AFTER_STEPS = 12
BEFORE_STEPS = (8, 2)
LEAST_HITS = 8

SILENT_POWER = 1e-10  # -100 dBFS


@dataclass(frozen=True, slots=True)
class CrestTrace(Trace):
    """Octave bands in 10 ms steps.

    ``peak`` (envelope) and ``energy`` (mean square), shape ``(bands, steps)``, of the louder channel.
    """

    peak: NDArray[np.float32]
    energy: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class _Band:
    low_bin: int
    window: NDArray[np.float32]
    per_step: int


def _band(centre_hz: float, rate_hz: int) -> _Band | None:
    """Return the bins of one octave and their gains; ``None`` where the band lies above half the rate."""
    half = 0.5 + SKIRT_OCTAVES
    low, high = centre_hz * 2.0**-half, min(centre_hz * 2.0**half, rate_hz / 2.0)
    if centre_hz >= 0.48 * rate_hz:
        return None
    low_bin, high_bin = int(np.ceil(low * CHUNK_S)), int(np.floor(high * CHUNK_S))
    octaves = np.abs(np.log2(np.arange(low_bin, high_bin + 1) / CHUNK_S / centre_hz))
    place = np.clip((octaves - 0.5 + SKIRT_OCTAVES) / (2.0 * SKIRT_OCTAVES), 0.0, 1.0)
    window = np.cos(0.5 * np.pi * place)
    per_step = fourier.next_fast_len(max(int(np.ceil(window.size / (CHUNK_S * STEPS_PER_S))), 1))
    return _Band(low_bin, window.astype(np.float32), per_step)


@kernel
def _tops_and_means(waves: NDArray[np.complex64], per_step: int, first: int, tops: Singles, means: Singles) -> None:
    """Write each step's highest and mean square of the louder channel.

    In one pass: with numpy the squares of all values are written down three times. ``waves`` of shape ``(chunks, channels, values)``;
    ``tops`` and ``means`` of shape ``(chunks, steps)``, from step ``first`` on.
    """
    for chunk in range(tops.shape[0]):
        for channel in range(waves.shape[1]):
            wave = waves[chunk, channel]
            for step in range(tops.shape[1]):
                top, total = np.float32(0), np.float32(0)
                start = (first + step) * per_step
                for i in range(start, start + per_step):
                    square = wave[i].real * wave[i].real + wave[i].imag * wave[i].imag
                    top = max(top, square)
                    total += square
                tops[chunk, step] = max(tops[chunk, step], top)
                means[chunk, step] = max(means[chunk, step], total / np.float32(per_step))


@meter("crest")
class CrestMeter:
    """Octave-band envelopes of a stream.

    Memory grows by 8 kB per second (10 bands, 100 steps, two numbers).
    """

    def __init__(self, rate_hz: int, channels: int, octaves: Sequence[int] = range(OCTAVES)) -> None:
        """Prepare the bands for ``rate_hz`` in Hz.

        ``octaves`` are those wanted (indices into `OCTAVE_HZ`), others stay empty.
        """
        self._rate_hz, self._channels = rate_hz, channels
        self._size = CHUNK_S * rate_hz
        self._edge_steps = round(MARGIN_S * STEPS_PER_S)
        self._core_steps = CHUNK_S * STEPS_PER_S - 2 * self._edge_steps
        self._bands = [_band(centre, rate_hz) if octave in octaves else None for octave, centre in enumerate(OCTAVE_HZ)]
        self._buffer = StreamBuffer(channels, self._size, round(MARGIN_S * rate_hz))
        self._chunks = np.empty((CHUNKS_AT_ONCE, channels, self._size), np.float32)
        self._waiting = self._done = 0  # chunks
        self._frames = 0
        self._peaks: list[NDArray[np.float32]] = []
        self._energies: list[NDArray[np.float32]] = []

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        self._frames += block.shape[1]
        for _ in self._buffer.fill(block):
            self._analyse()

    def _analyse(self) -> None:
        """Put the chunk to those that wait, and measure them when they are enough."""
        self._chunks[self._waiting] = self._buffer.samples
        self._waiting += 1
        self._done += 1
        if self._waiting == CHUNKS_AT_ONCE:
            self._measure()
        done = self._done * self._core_steps * self._rate_hz
        core = done // STEPS_PER_S - (done - self._core_steps * self._rate_hz) // STEPS_PER_S  # exact at odd rates too
        self._buffer.carry(self._size - core)

    def _measure(self) -> None:
        """Measure the bands of the chunks that wait."""
        chunks, self._waiting = self._waiting, 0
        spectrum = fourier.rfft(self._chunks[:chunks])
        peak = np.zeros((OCTAVES, chunks, self._core_steps), np.float32)
        energy = np.zeros_like(peak)
        for index, band in enumerate(self._bands):
            if band is None:
                continue
            count = band.per_step * CHUNK_S * STEPS_PER_S
            shifted = np.zeros((chunks, self._channels, count), np.complex64)
            cut = spectrum[..., band.low_bin : band.low_bin + band.window.size]
            np.multiply(cut, band.window[: cut.shape[-1]], out=shifted[..., : cut.shape[-1]])
            _tops_and_means(fourier.ifft(shifted), band.per_step, self._edge_steps, peak[index], energy[index])
            peak[index] *= np.float32((2.0 * count / self._size) ** 2)
            energy[index] *= np.float32(2.0 * (count / self._size) ** 2)
        self._peaks.append(np.sqrt(peak).reshape(OCTAVES, -1))
        self._energies.append(energy.reshape(OCTAVES, -1))

    def finish(self) -> CrestTrace:
        """Return the bands of the whole sound."""
        steps = -(-self._frames * STEPS_PER_S // self._rate_hz)
        while self._done * self._core_steps < steps:
            self._buffer.fill_with_silence()
            self._analyse()
        if self._waiting:
            self._measure()
        none = np.zeros((OCTAVES, 0), np.float32)
        peak = np.concatenate([none, *self._peaks], axis=1)[:, :steps]
        energy = np.concatenate([none, *self._energies], axis=1)[:, :steps]
        return CrestTrace(peak, energy)


def _decibels(power: Floats) -> Floats:
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-20)), np.float64)


def _crest_db(peak: Floats, energy: Floats, quantile: float = 1.0) -> float | None:
    """Return peak over RMS of the steps whose 400 ms level is within 25 dB of the band's loud moments.

    ``quantile`` below 1 leaves out rare peaks.
    """
    width = min(40, energy.size)
    if width == 0:
        return None
    level = sliding_means(energy, width)
    gate = float(np.quantile(level, 0.95)) * 10.0 ** (-GATE_DB / 10.0)
    starts = np.zeros(energy.size + 1, np.int64)
    for edge, sign in ((0, 1), (width, -1)):
        np.add.at(starts, np.flatnonzero(level > max(gate, FLOOR_POWER)) + edge, sign)
    playing = np.cumsum(starts[:-1]) > 0
    if not playing.any():
        return None
    return float(20.0 * np.log10(np.quantile(peak[playing], quantile)) - _decibels(energy[playing].mean()))


def usual_crest_db(trace: CrestTrace, octave: int, quantile: float) -> float | None:
    """Return the height of one octave's peaks over RMS.

    Rare ones left out; ``None`` when it never plays.
    ``octave`` is an index into `OCTAVE_HZ`; ``quantile`` is that of the peaks of the 10 ms steps in which the band plays.
    """
    return _crest_db(trace.peak[octave].astype(np.float64), trace.energy[octave].astype(np.float64), quantile)


def _dense_steps(level: LevelTrace, steps: int, sections: Sections | None) -> NDArray[np.bool_]:
    """Return which steps lie in the dense parts: sections within 4 LU of the loudest, else the louder half of the song."""
    dense = np.zeros(steps, bool)
    parts = [section for section in sections.sections if section.loudness_lufs is not None] if sections is not None else []
    if parts:
        loudest = max(section.loudness_lufs for section in parts if section.loudness_lufs is not None)
        for part in parts:
            if part.loudness_lufs is not None and part.loudness_lufs >= loudest - 4.0:
                dense[round(part.start_s * STEPS_PER_S) : round(part.end_s * STEPS_PER_S)] = True
        return dense
    power = np.asarray(level.k_energy, np.float64).sum(axis=0)[:steps]
    width = min(300, power.size)
    smooth = sliding_means(power, width)
    if smooth.size == 0:
        return dense
    half = width // 2
    centred = np.pad(smooth, (half, steps - smooth.size - half), mode="edge")
    playing = centred[centred > centred.max() * 1e-2]
    dense[:] = centred >= np.median(playing) if playing.size else False
    return dense


def _spread_db(energy: Floats, dense: NDArray[np.bool_]) -> float | None:
    """Return P95 - P10 of the 400 ms levels (hop 100 ms) that lie wholly in dense parts, while the band plays."""
    level = sliding_means(energy, 40, 10)
    whole = sliding_means(dense.astype(np.float64), 40, 10) > 0.999
    level = level[whole & (level > FLOOR_POWER)]
    if level.size < 20:
        return None
    in_db = _decibels(level)
    in_db = in_db[in_db > np.quantile(in_db, 0.95) - GATE_DB]
    return float(np.quantile(in_db, 0.95) - np.quantile(in_db, 0.10))


def _hit_variation_db(energy: Floats, hit_times_s: tuple[float, ...]) -> float | None:
    """Return the SD of the band's level over the hits at which it rises by 3 dB or more; at least 8 of them.

    Level at a hit: loudest 30 ms within the 120 ms after it. Hits more than 25 dB below the loud ones are left out.
    """
    smooth = np.convolve(np.pad(energy, 1), np.full(3, 1.0 / 3.0), mode="valid")
    at = np.rint(np.array(hit_times_s, np.float64) * STEPS_PER_S).astype(np.int64)
    at = at[(at >= 0) & (at + AFTER_STEPS <= smooth.size)]
    if at.size < LEAST_HITS:
        return None
    highest = np.lib.stride_tricks.sliding_window_view(smooth, AFTER_STEPS)[at].max(axis=1)
    levels = highest[(highest >= FLOOR_POWER) & (highest >= 2.0 * _before_hits(smooth, at))]
    if levels.size < LEAST_HITS:
        return None
    in_db = _decibels(levels)
    in_db = in_db[in_db > np.quantile(in_db, 0.95) - GATE_DB]
    return float(np.std(in_db, ddof=1)) if in_db.size >= LEAST_HITS else None


def _before_hits(smooth: Floats, at: NDArray[np.int64]) -> Floats:
    """Return the mean of the steps from 80 to 20 ms before each hit, as far as there are any, else 0."""
    first, last = BEFORE_STEPS
    means = np.zeros(at.size)
    full = at >= first
    means[full] = np.lib.stride_tricks.sliding_window_view(smooth, first - last)[at[full] - first].mean(axis=1)
    for number in np.flatnonzero(~full & (at > last)):
        means[number] = smooth[: at[number] - last].mean()
    return means


def _widest_jump(energy: Floats, sections: Sections | None) -> Moment | None:
    """Return the largest step between neighbouring 3 s levels inside one section; both must play."""
    level = _decibels(sliding_means(energy, 300, 100))
    if level.size < 4:
        return None
    gate = max(float(np.quantile(level, 0.95)) - GATE_DB, -100.0)
    jump = np.abs(level[3:] - level[:-3])
    allowed = (level[3:] > gate) & (level[:-3] > gate)
    if sections is not None and sections.sections:
        starts = np.arange(jump.size)
        inside = np.zeros(jump.size, bool)
        for section in sections.sections:
            inside |= (starts >= section.start_s - 0.005) & (starts + 6.0 <= section.end_s + 0.005)
        allowed &= inside
    if not allowed.any():
        return None
    at = int(np.argmax(np.where(allowed, jump, -1.0)))
    return Moment(float(at), float(at + 6), float(jump[at]))


def _over_time(level: LevelTrace) -> Course:
    """Return peak over RMS of 3 s windows, of the channel that peaks highest; ``None`` where nothing plays."""
    window, step = 300, 100
    values: list[float | None] = []
    for start in range(0, level.energy.shape[1] - window + 1, step):
        peaks = level.sample_peak[:, start : start + window].max(axis=1)
        highest = int(np.argmax(peaks))
        mean = float(level.energy[highest, start : start + window].mean())
        values.append(round(float(10 * np.log10(float(peaks[highest]) ** 2 / mean)), 3) if mean > SILENT_POWER else None)
    return Course("dB", 1.5, 1.0, tuple(values))


@measurement
def measure_crest(trace: CrestTrace, level_trace: LevelTrace, hits: Hits | None, sections: Sections | None) -> Crest:
    """Return crest readings per octave, and the peaks.

    Crest factor, spread, hit variation and jumps per octave, and the song's peaks.

    Parameters
    ----------
    trace
        Octave bands from `CrestMeter`.
    level_trace
        Peaks and K-weighted energies of the same sound, in the same 10 ms steps.
    hits
        The song's hits; without them no variation from hit to hit is read.
    sections
        The song's parts; without them the louder half counts as dense and the whole song as one part.
    """
    hit_times_s = () if hits is None else hits.times_s
    energy = trace.energy.astype(np.float64)
    peak = trace.peak.astype(np.float64)
    dense = _dense_steps(level_trace, energy.shape[1], sections)
    crest = tuple(_crest_db(band_peak, band_energy) for band_peak, band_energy in zip(peak, energy, strict=True))
    absent: list[Absence] = []
    if all(band_crest is None for band_crest in crest):
        absent.append(Absence("crest_db", "no band holds sound above -100 dBFS"))
    elif None in crest:
        absent.append(Absence("crest_db", "bands without a value hold no sound, or lie above half the sampling rate"))
    if len(hit_times_s) < LEAST_HITS:
        absent.append(Absence("hit_variation_db", "fewer than 8 hits"))
    peaks = measure_peaks(level_trace)
    return Crest(
        octave_hz=OCTAVE_HZ,
        crest_db=crest,
        spread_db=tuple(_spread_db(band_energy, dense) for band_energy in energy),
        hit_variation_db=tuple(_hit_variation_db(band_energy, hit_times_s) for band_energy in energy),
        widest_jump=tuple(_widest_jump(band_energy, sections) for band_energy in energy),
        stray_peaks=peaks.stray,
        ordinary_peak_dbfs=peaks.ordinary_dbfs,
        stray_height_db=peaks.height_db,
        stray_win_db=peaks.win_db,
        peak_pileup_share=peaks.pileup_share,
        peak_cluster_share=peaks.cluster_share,
        over_time=_over_time(level_trace),
        absent=(*absent, *peaks.absent),
    )
