"""The headline readings of a song.

Worked out from traces that a critique has anyway, or from as little sound as will do.
A finished master and a mix that is not limited yet are told apart by their peaks first of all. So what depends on limiting
(`psr_db`, `crest_balance_db`, `hit_lift_db`) is read on the densest 30 s, and `limited_crest_balance` reads it again behind
the reference limiter, for a mix that is compared with masters.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.hits.audibility import HitMeter, HitTrace
from features.loudness.crest import CrestMeter, CrestTrace, usual_crest_db
from features.loudness.level import LevelTrace
from features.processors.dynamics.limiter import GENTLE, gain_curve, true_peak_envelope
from features.records.base import Absence, Span
from features.records.ear import Ear
from features.records.headline import Headline
from features.records.hits import Hits
from features.records.level import Level
from features.records.sections import Sections
from features.records.spectrum import Spectrum
from features.sound.decibels import power_to_db
from features.sound.measurement import Trace, measurement
from features.sound.signal import BLOCK_FRAMES, Signal, Source

Floats = NDArray[np.float64]

BASS_HZ = (39.0, 163.0)  # holds the third octaves 40-160 Hz
MIDDLE_HZ = (190.0, 5100.0)
WIDTH_HZ = (190.0, 8100.0)
LOW_HZ = 130.0  # holds the third octaves up to 125 Hz, whose upper edge is 140 Hz
NARROWEST_DB = -30.0  # less side than this is heard as mono
LOW_OCTAVES, HIGH_OCTAVES = (1, 2, 3), (6, 7, 8)  # 63-250 Hz and 2-8 kHz of features.loudness.crest.OCTAVE_HZ
USUAL_PEAKS = 0.99  # of the 10 ms steps: a single click must not speak for a song
STEPS_PER_S = 100
AT_STEPS, BEFORE_STEPS, SLACK_STEPS = 3, 6, 1
FEWEST_HITS = 8
HIGHEST_LIFT_DB = 12.0  # a hit that rises further stands alone, and how far out of silence says nothing about it
FLOOR_POWER = 1e-10

MONO = "the file is mono"
SILENT = "the song is silent"


@dataclass(frozen=True, slots=True)
class DenseStretch(Trace):
    """The densest stretch of a song.

    When, its octave bands, and its hits.

    Attributes
    ----------
    span
        Where it lies in the song.
    crest
        Its octave bands alone.
    hit_times_s
        Starts of hits, seconds from the start of the song; those outside the stretch are not used.
    percussive_share
        Share of energy that strikes; ``None`` for silence.
    """

    span: Span
    crest: CrestTrace
    hit_times_s: tuple[float, ...]
    percussive_share: float | None = None


@measurement
def dense_stretch(crest: CrestTrace, hits: Hits, sections: Sections) -> DenseStretch:
    """Cut the densest stretch out of the whole song's measurements."""
    return DenseStretch(sections.densest, stretch_of(crest, sections.densest), hits.times_s, hits.percussive_share)


def read_dense_stretch(source: Source, sections: Sections) -> DenseStretch:
    """Read the densest stretch again.

    The whole song was measured for less.
    """
    sound, span = dense_sound(source, sections)
    hits = hit_trace_of(sound)
    times_s = tuple(float(time_s) + span.start_s for time_s in hits.times_s)
    return DenseStretch(span, crest_trace_of(sound), times_s, hits.percussive_share)


@measurement
def measure_headline(spectrum: Spectrum, ear: Ear, level: Level, level_trace: LevelTrace, dense: DenseStretch) -> Headline:
    """Return a song's headline readings.

    Parameters
    ----------
    spectrum, ear, level
        Records of the whole song.
    level_trace
        The whole song's.
    dense
        The song's densest stretch.
    """
    values: dict[str, float | None] = {
        "tilt_db_per_octave": spectrum.tilt_db_per_octave,
        "bass_db": _bass_db(spectrum),
        "ear_share": ear.share_2k_5k,
        "width_db": _width_db(spectrum),
        "low_width_db": _low_width_db(spectrum),
        "psr_db": level.psr_densest_db,
        "crest_balance_db": crest_balance_db(dense.crest),
        "hit_lift_db": _hit_lift_db(level_trace, dense.hit_times_s, dense.span),
    }
    mono = spectrum.side_db is None and bool(spectrum.third_octave_db)
    absent = [Absence(name, _why(name, mono=mono, silent=level.integrated_lufs is None)) for name, value in values.items() if value is None]
    return Headline(**values, absent=tuple(absent))


def _why(name: str, *, mono: bool, silent: bool) -> str:
    if silent:
        return SILENT
    if mono and name in {"width_db", "low_width_db"}:
        return MONO
    if name == "hit_lift_db":
        return "too few hits were found in the densest stretch"
    return "the sampling rate does not reach so high, or nothing plays there"


def _powers(spectrum: Spectrum, curve_db: tuple[float, ...], low_hz: float, high_hz: float) -> Floats:
    """Return the power of the bands from ``low_hz`` to ``high_hz``, up to a common factor."""
    hz = np.array(spectrum.third_octave_hz[: len(curve_db)])
    chosen = (hz > low_hz) & (hz < high_hz)
    powers: Floats = 10 ** (np.array(curve_db)[chosen] / 10) * hz[chosen]
    return powers


def _bass_db(spectrum: Spectrum) -> float | None:
    if not spectrum.third_octave_db or spectrum.third_octave_hz[-1] < MIDDLE_HZ[1] * 0.9:
        return None
    bass = _powers(spectrum, spectrum.third_octave_db, *BASS_HZ).sum()
    middle = _powers(spectrum, spectrum.third_octave_db, *MIDDLE_HZ).sum()
    return power_to_db(float(bass / middle)) if middle > 0 and bass > 0 else None


def _width_db(spectrum: Spectrum) -> float | None:
    if spectrum.side_db is None or not spectrum.mid_db:
        return None
    hz = np.array(spectrum.third_octave_hz[: len(spectrum.mid_db)])
    chosen = (hz > WIDTH_HZ[0]) & (hz < WIDTH_HZ[1])
    against = np.array(spectrum.side_db)[chosen] - np.array(spectrum.mid_db)[chosen]
    return float(np.maximum(against, NARROWEST_DB).mean()) if chosen.any() else None


def _low_width_db(spectrum: Spectrum) -> float | None:
    if spectrum.side_db is None or not spectrum.mid_db:
        return None
    side = float(_powers(spectrum, spectrum.side_db, 0.0, LOW_HZ).sum())
    mid = float(_powers(spectrum, spectrum.mid_db, 0.0, LOW_HZ).sum())
    return max(10.0 * float(np.log10(max(side, 1e-30) / mid)), NARROWEST_DB) if mid > 0 else None


def stretch_of(trace: CrestTrace, span: Span) -> CrestTrace:
    """Return one stretch of a whole song's octave bands."""
    first, last = round(span.start_s * STEPS_PER_S), round(span.end_s * STEPS_PER_S)
    return CrestTrace(trace.peak[:, first:last], trace.energy[:, first:last])


def crest_balance_db(trace: CrestTrace) -> float | None:
    """Return the crest factor of highs minus lows, in dB.

    Mean of the octaves 2-8 kHz minus that of 63-250 Hz; None when one of them never plays.
    """
    means = []
    for octaves in (HIGH_OCTAVES, LOW_OCTAVES):
        crests = [usual_crest_db(trace, octave, USUAL_PEAKS) for octave in octaves]
        known = [value for value in crests if value is not None]
        if len(known) < len(octaves):
            return None
        means.append(sum(known) / len(known))
    return means[0] - means[1]


def _hit_lift_db(trace: LevelTrace, hit_times_s: tuple[float, ...], densest: Span) -> float | None:
    """Return the median rise at the hits of the densest stretch; steps are 10 ms, and a hit's own step is its first."""
    energy = trace.k_sum()
    at = np.floor(np.array([time_s for time_s in hit_times_s if densest.start_s <= time_s < densest.end_s]) * STEPS_PER_S).astype(np.int64)
    at = at[(at >= BEFORE_STEPS + SLACK_STEPS) & (at + AT_STEPS <= energy.size)]
    if at.size < FEWEST_HITS:
        return None
    total = np.concatenate([[0.0], np.cumsum(energy)])
    after = (total[at + AT_STEPS] - total[at]) / AT_STEPS
    before = (total[at - SLACK_STEPS] - total[at - SLACK_STEPS - BEFORE_STEPS]) / BEFORE_STEPS
    floor = FLOOR_POWER
    lift_db = 10 * np.log10((np.maximum(after, 0) + floor) / (np.maximum(before, 0) + floor))
    return min(float(np.median(lift_db)), HIGHEST_LIFT_DB)


def dense_sound(source: Source, sections: Sections) -> tuple[Signal, Span]:
    """Read the densest stretch of a song."""
    first = max(round(sections.densest.start_s * source.rate_hz), 0)
    samples = source.read(first, round(sections.densest.end_s * source.rate_hz) - first)
    sound = Signal(samples, source.rate_hz)
    return sound, Span(first / source.rate_hz, first / source.rate_hz + sound.duration_s)


def crest_trace_of(sound: Signal) -> CrestTrace:
    """Measure the octave bands that `crest_balance_db` needs.

    Of a short sound.
    """
    meter = CrestMeter(sound.rate_hz, sound.channels, (*LOW_OCTAVES, *HIGH_OCTAVES))
    for block in sound.blocks(BLOCK_FRAMES):
        meter.push(block)
    return meter.finish()


def hit_trace_of(sound: Signal) -> HitTrace:
    """Find the hits of a short sound.

    Times are counted from its own start.
    """
    meter = HitMeter(sound.rate_hz, sound.channels)
    for block in sound.blocks(BLOCK_FRAMES):
        meter.push(block)
    return meter.finish()


def limited_crest_balance(sound: Signal, threshold: float) -> float | None:
    """Return `crest_balance_db` behind the reference limiter.

    Its ceiling, before make-up, is ``threshold`` (linear).
    """
    gain = gain_curve(true_peak_envelope(sound.samples, threshold), threshold, sound.rate_hz, GENTLE)
    return crest_balance_db(crest_trace_of(Signal(sound.samples * gain, sound.rate_hz)))
