"""Hits: what strikes, and how much stays audible.

Over what sustains, stroke by stroke.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from features.hearing import masking
from features.hits.onsets import GROUP_EDGES_HZ, find_onsets, group_of, group_power, onset_strength
from features.hits.separation import BandPower, Floats, PartCurves, Parts, Singles, separate, sixth_octaves
from features.hits.slopes import clear_slope
from features.hits.tempo import tempo_bpm
from features.records.base import Absence, Moment
from features.records.hits import HitBand, Hits
from features.sound.bands import third_octaves
from features.sound.measurement import Trace, measurement, meter
from features.sound.signal import Samples, Signal

CHUNK_FRAMES = 8192  # 48 s; chunks lie at the same places of the song whatever the blocks are
MARGIN_FRAMES = 512
EARLY_FRAMES = 1.0  # the steepest rise lies this far before the stroke, which enters the window earlier (measured on planted hits)
HIT_S = 0.05
GAP_S = 0.02  # the window reaches this far back from a hit's start
PAST_S = 0.2
LIFT_AFTER_S = 0.04
LIFT_BEFORE_S = 0.12
BAND_RISE_DB = 3.0
BURIED = 0.5
LOW_HZ = (30.0, 150.0)
OCTAVE_EDGES_HZ = (250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16000.0)
CLIP = np.float32(2.0)  # a stroke may lift the sustained envelopes by no more than 3 dB
WINDOW_S = 8.0
WINDOW_HITS = 4
MOST_WORST = 5


@dataclass(frozen=True, slots=True)
class HitTrace(Trace):
    """What `HitMeter` keeps of a song.

    Attributes
    ----------
    hop_s, duration_s
        Time from frame to frame; frame ``i`` is centred at ``(i + 0.5) * hop_s``. Length of the song.
    starts, times_s
        First frame of each hit, and when it starts, shape ``(hits,)``.
    audible, weight
        Per hit and band group, shape ``(hits, 5)``: how much of the stroke there is (sum of ``power ** 0.25`` over ear bands and
        frames) and how much of that is audible.
    loudness, rise_db, lift_db
        Per hit and band group: ``power ** 0.25`` of what the percussive part gains; rise of the stroke at the onset; level of the
        mix 0-40 ms after the onset over 120-20 ms before it.
    strength_db
        Onset strength per frame.
    low_whole, low_percussive, low_sustained
        Power in 30-150 Hz per frame: everything, what strikes, and what is held (strokes cut off).
    high_sustained
        Power of what is held in the octaves 250 Hz-16 kHz, shape ``(frames, 6)``; strokes cut off.
    slope
        How fast what sustains rises per frame, dB per second: see ``features.hits.slopes``.
    parts, percussive_share
        Mean spectra of both parts; the share of the energy that is percussive, ``None`` for silence.
    """

    hop_s: float
    duration_s: float
    starts: NDArray[np.int64]
    times_s: Floats
    audible: Floats
    weight: Floats
    loudness: Floats
    rise_db: Floats
    lift_db: Floats
    strength_db: Singles
    low_whole: Singles
    low_percussive: Singles
    low_sustained: Singles
    high_sustained: Singles
    slope: Singles
    parts: PartCurves
    percussive_share: float | None

    def shares(self) -> Floats:
        """Audible share of each hit, 0 where nothing clears."""
        return _ratio(self.audible.sum(axis=1), self.weight.sum(axis=1))

    def band_shares(self) -> Floats:
        """Audible share per hit and band group, shape ``(hits, 5)``."""
        return _ratio(self.audible, self.weight)


@dataclass(frozen=True, slots=True)
class _Model:
    """Everything that depends on the rate only."""

    hop_s: float
    groups: NDArray[np.int64]
    ear: masking.Ear
    ear_groups: Singles
    low: NDArray[np.bool_]
    octaves: Singles
    centre_hz: Floats


def _model(rate_hz: int, hop: int) -> _Model:
    bands = sixth_octaves(rate_hz)
    ear = masking.ear(rate_hz, bands)
    place = np.clip(np.searchsorted(GROUP_EDGES_HZ, ear.centre_hz, side="right") - 1, 0, len(GROUP_EDGES_HZ) - 2)
    octave = np.searchsorted(OCTAVE_EDGES_HZ, bands.centre_hz, side="right") - 1
    return _Model(
        hop / rate_hz,
        group_of(bands.centre_hz),
        ear,
        (place[:, None] == np.arange(len(GROUP_EDGES_HZ) - 1)).astype(np.float32),
        (bands.centre_hz >= LOW_HZ[0]) & (bands.centre_hz <= LOW_HZ[1]),
        (octave[:, None] == np.arange(len(OCTAVE_EDGES_HZ) - 1)).astype(np.float32),
        bands.centre_hz,
    )


@dataclass(frozen=True, slots=True)
class _Piece:
    """The results of one chunk; arrays over hits, then over frames."""

    starts: NDArray[np.int64]
    audible: Floats
    weight: Floats
    loudness: Floats
    rise_db: Floats
    lift_db: Floats
    strength_db: Singles
    low_whole: Singles
    low_percussive: Singles
    low_sustained: Singles
    high_sustained: Singles
    slope: Singles


@meter("hits")
class HitMeter:
    """Measures a `HitTrace` block by block."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        """Prepare for sound of ``channels`` (1 or 2) at ``rate_hz``."""
        self.rate_hz = rate_hz
        self._power = BandPower(rate_hz, channels)
        self._model = _model(rate_hz, self._power.hop)
        self._waiting: list[Singles] = []
        self._waiting_frames = 0
        self._first = 0  # song frame of the first waiting one
        self._next = 0  # first frame not yet measured
        self._pieces: list[_Piece] = []
        self._sums = np.zeros((2, len(self._model.groups)))
        self._pushed = 0

    def push(self, block: Samples) -> None:
        """Take the next block, shape ``(channels, n)``."""
        self._pushed += block.shape[1]
        self._take(self._power.push(block))
        while self._first + self._waiting_frames >= self._next + CHUNK_FRAMES + MARGIN_FRAMES:
            self._measure(self._next + CHUNK_FRAMES)

    def _take(self, frames: Singles) -> None:
        if len(frames):
            self._waiting.append(frames)
            self._waiting_frames += len(frames)

    def _measure(self, end: int) -> None:
        """Measure the song's frames up to ``end``, and let go of those no longer needed."""
        power = np.concatenate(self._waiting) if self._waiting else np.zeros((0, len(self._model.groups)), np.float32)
        low, high = self._next - self._first, end - self._first
        parts = separate(power[: high + MARGIN_FRAMES], self._model.hop_s)
        self._pieces.append(_piece(parts, low, high, self._first, self._model))
        self._sums[0] += parts.percussive[low:high].sum(axis=0, dtype=np.float64)
        self._sums[1] += parts.sustained[low:high].sum(axis=0, dtype=np.float64)
        self._next = end
        first = max(end - MARGIN_FRAMES, 0)
        power = power[first - self._first :].copy()
        self._waiting, self._waiting_frames, self._first = [power], len(power), first

    def finish(self) -> HitTrace:
        """Return the trace. No `push` after it."""
        self._take(self._power.finish())
        frames = self._first + self._waiting_frames
        while self._next < frames:
            self._measure(min(self._next + CHUNK_FRAMES, frames))
        if not self._pieces:
            self._measure(0)
        curves = (self._sums / max(frames, 1)).reshape(2, -1, 2).sum(axis=2)
        whole = float(curves.sum())
        hop_s = self._model.hop_s
        starts = self._join("starts")
        return HitTrace(
            hop_s=hop_s,
            duration_s=self._pushed / self.rate_hz,
            starts=starts,
            times_s=(starts + EARLY_FRAMES + 0.5) * hop_s,
            audible=self._join("audible"),
            weight=self._join("weight"),
            loudness=self._join("loudness"),
            rise_db=self._join("rise_db"),
            lift_db=self._join("lift_db"),
            strength_db=self._join("strength_db"),
            low_whole=self._join("low_whole"),
            low_percussive=self._join("low_percussive"),
            low_sustained=self._join("low_sustained"),
            high_sustained=self._join("high_sustained"),
            slope=self._join("slope"),
            parts=PartCurves(third_octaves(self.rate_hz).centre_hz, curves[0], curves[1]),
            percussive_share=float(curves[0].sum()) / whole if whole > 0 else None,
        )

    def _join(self, name: str) -> NDArray[Any]:
        return np.concatenate([getattr(piece, name) for piece in self._pieces])


def _piece(parts: Parts, low: int, high: int, first: int, model: _Model) -> _Piece:
    onsets = find_onsets(parts, model.groups, model.hop_s)
    starts = onsets.frames[(onsets.frames >= low) & (onsets.frames < high)]
    audible, weight = _audible(parts.strokes(), parts.steady, parts.whole, starts, model)
    within = slice(low, high)
    after, before = _either_side(group_power(parts.percussive, model.groups), starts, model)
    loudness = np.maximum(after - before, 0.0) ** masking.LOUDNESS_EXPONENT
    sustained = parts.steady[within]
    low_whole = parts.whole[within][:, model.low].sum(axis=1)
    return _Piece(
        starts + first,
        audible @ model.ear_groups,
        weight @ model.ear_groups,
        loudness,
        onsets.rise_db[starts].astype(np.float64),
        _lift(group_power(parts.whole, model.groups), starts, model),
        onset_strength(onsets.rise_db[within].astype(np.float64)).astype(np.float32),
        low_whole,
        parts.percussive[within][:, model.low].sum(axis=1),
        np.minimum(low_whole, CLIP * sustained[:, model.low].sum(axis=1)),
        np.minimum(parts.whole[within] @ model.octaves, CLIP * (sustained @ model.octaves)),
        clear_slope(parts, model.centre_hz, model.hop_s)[within],
    )


def _audible(hit: Singles, masker: Singles, everything: Singles, starts: NDArray[np.int64], model: _Model) -> tuple[Floats, Floats]:
    audible = np.zeros((len(starts), len(model.ear.centre_hz)))
    weight = np.zeros_like(audible)
    hop_s = model.hop_s
    spans = (max(round(HIT_S / hop_s), 1), round(GAP_S / hop_s), round(PAST_S / hop_s))
    spread = model.ear.spread
    excited = (hit @ spread, masker @ spread, everything @ spread)
    masking.audible_parts(*excited, starts, spans, masking.forward_decay(hop_s), audible, weight)
    return audible, weight


def _either_side(power: Floats, starts: NDArray[np.int64], model: _Model) -> tuple[Floats, Floats]:
    """Return the mean power 0-40 ms after and 120-20 ms before each start, both of shape ``(hits, groups)``."""
    after = _span_mean(power, starts, starts + max(round(LIFT_AFTER_S / model.hop_s), 1))
    before = _span_mean(power, starts - round(LIFT_BEFORE_S / model.hop_s), starts - round(GAP_S / model.hop_s))
    return after, before


def _lift(power: Floats, starts: NDArray[np.int64], model: _Model) -> Floats:
    after, before = _either_side(power, starts, model)
    floor = 1e-6 * power.max(axis=0, initial=0.0) + 1e-30  # 60 dB below the loudest: before the first hit there is nothing
    lift: Floats = 10 * np.log10((after + floor) / (before + floor))
    return lift


def _span_mean(power: Floats, start: NDArray[np.int64], stop: NDArray[np.int64]) -> Floats:
    total = np.concatenate([np.zeros((1, power.shape[1])), np.cumsum(power, axis=0)])
    low, high = np.clip(start, 0, len(power)), np.clip(stop, 0, len(power))
    mean: Floats = (total[high] - total[low]) / np.maximum(high - low, 1)[:, None]
    return np.maximum(mean, 0.0)


def _ratio(part: Floats, whole: Floats) -> Floats:
    ratio: Floats = np.divide(part, whole, out=np.zeros_like(part), where=whole > 0)
    return np.clip(ratio, 0.0, 1.0)


def audible_share_from_stems(percussive: Signal, rest: Signal) -> tuple[Floats, Floats]:
    """Return when each hit starts, and its audible share.

    Hits of ``percussive``, starts in seconds, share 0-1 over ``rest``.
    The same masking as in `HitMeter`, but nothing has to be separated: the hit is the first stem's power, the masker the
    other's. Both stems must have the same rate; hits without any power are left out. This is the truth that the reading
    from the mix alone is held against.
    """
    if percussive.rate_hz != rest.rate_hz:
        raise ValueError(f"the stems differ in rate: {percussive.rate_hz} and {rest.rate_hz} Hz")
    meter = BandPower(percussive.rate_hz, percussive.channels)
    model = _model(percussive.rate_hz, meter.hop)
    hit = np.concatenate([meter.push(percussive.samples), meter.finish()])
    meter = BandPower(rest.rate_hz, rest.channels)
    masker = np.concatenate([meter.push(rest.samples), meter.finish()])
    frames = max(len(hit), len(masker))
    hit, masker = (np.pad(part, ((0, frames - len(part)), (0, 0))) for part in (hit, masker))
    starts = find_onsets(separate(hit, model.hop_s), model.groups, model.hop_s).frames
    audible, weight = _audible(hit, masker, hit + masker, starts, model)
    some = weight.sum(axis=1) > 0
    return (starts[some] + EARLY_FRAMES + 0.5) * model.hop_s, _ratio(audible.sum(axis=1), weight.sum(axis=1))[some]


@measurement
def part_curves(hits: HitTrace) -> PartCurves:
    """Return the mean spectra of what strikes and what sustains."""
    return hits.parts


@measurement
def measure_hits(trace: HitTrace) -> Hits:
    """Sum up the hits of a song.

    A hit counts in a band when its stroke rises there by 3 dB or more; it is buried when less than half of it stays
    audible. What is buried in a band is ``power ** 0.25`` of what the percussive part gains at the hit, times the share not audible.
    """
    shares = trace.shares()
    band, band_share = _masking_band(trace)
    tempo = tempo_bpm(trace.strength_db, trace.hop_s)
    some = len(shares) > 0
    median = float(np.median(shares)) if some else None
    buried = float(np.mean(shares < BURIED)) if some else None
    values: dict[str, object] = {"audible_share_median": median, "buried_share": buried, "masking_band_hz": band}
    values |= {"masking_band_share": band_share}
    why = "nothing of the hits is buried" if some else "no hits were found"
    absent = [Absence(name, why) for name, value in values.items() if value is None]
    if trace.percussive_share is None:
        absent.append(Absence("percussive_share", "the file is silent"))
    if tempo is None:
        absent.append(Absence("tempo_bpm", "no steady beat was found"))
    return Hits(
        count=len(shares),
        audible_share_median=median,
        buried_share=buried,
        times_s=tuple(trace.times_s.tolist()),
        audible_share=tuple(shares.tolist()),
        bands=_bands(trace),
        masking_band_hz=band,
        masking_band_share=band_share,
        worst=worst_windows(trace.times_s, shares),
        percussive_share=trace.percussive_share,
        tempo_bpm=tempo,
        absent=tuple(absent),
    )


def _bands(trace: HitTrace) -> tuple[HitBand, ...]:
    shares = trace.band_shares()
    bands: list[HitBand] = []
    for number, (low, high) in enumerate(pairwise(GROUP_EDGES_HZ)):
        inside = trace.rise_db[:, number] >= BAND_RISE_DB
        count = int(np.count_nonzero(inside))
        some = shares[inside, number]
        bands.append(
            HitBand(
                low,
                high,
                count,
                float(np.median(some)) if count else None,
                float(np.mean(some < BURIED)) if count else None,
                float(np.median(trace.lift_db[inside, number])) if count else None,
            )
        )
    return tuple(bands)


def _masking_band(trace: HitTrace) -> tuple[tuple[float, float] | None, float | None]:
    buried = (trace.loudness * (1 - trace.band_shares())).sum(axis=0)
    total = float(buried.sum())
    if total <= 0:
        return None, None
    worst = int(np.argmax(buried))
    return (GROUP_EDGES_HZ[worst], GROUP_EDGES_HZ[worst + 1]), float(buried[worst]) / total


def worst_windows(times_s: Floats, values: Floats, most: int = MOST_WORST) -> tuple[Moment, ...]:
    """Return the 8 s stretches with the lowest median value.

    Worst first; each holds 4 hits or more, none overlap.

    Examples
    --------
    >>> worst_windows(np.arange(16.0), np.repeat([0.9, 0.2], 8), most=1)
    (Moment(start_s=6.0, end_s=14.0, value=0.2),)
    """
    if not len(times_s):
        return ()
    starts = np.arange(0.0, float(times_s[-1]) + 1.0, WINDOW_S / 4)
    low, high = np.searchsorted(times_s, starts), np.searchsorted(times_s, starts + WINDOW_S)
    rated = [(float(np.median(values[a:b])), float(start)) for start, a, b in zip(starts, low, high, strict=True) if b - a >= WINDOW_HITS]
    chosen: list[Moment] = []
    for value, start in sorted(rated):
        if len(chosen) < most and all(abs(start - window.start_s) >= WINDOW_S for window in chosen):
            chosen.append(Moment(start, start + WINDOW_S, value))
    return tuple(chosen)
