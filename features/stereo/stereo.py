"""Left against right.

Correlation, what mono loses, balance, width per band, and faults of polarity or timing.
With sums over a stretch of sound, ``rho = sum LR / sqrt(sum L^2 sum R^2)`` and ``rho' = 2 sum LR / (sum L^2 + sum R^2)``. The mono
fold-down ``0.5 (L + R)`` keeps the share ``(1 + rho') / 2`` of the energy, so the loss is ``-10 log10((1 + rho') / 2)``: 0 dB for the same
sound in both channels, 3.01 dB for unrelated ones (standard practice; closed forms in the tests).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.loudness import level
from features.loudness.level import LevelTrace
from features.records.base import Absence, Course, Moment, Span
from features.records.stereo import Stereo
from features.sound.measurement import measurement
from features.sound.spectrogram import Spectrogram
from features.stereo.delay import fixed_delay_ms
from features.stereo.mirrored import mirrored_shares

Floats = NDArray[np.float64]

SILENT_POWER = 1e-9  # -90 dBFS
WINDOW_S, HOP_S = 3.0, 1.0
GATE_DB = 25.0  # a band plays while it is within this of its own loud moments
LEAST_BAND_SHARE = 1e-7
INVERTED = -0.8
MOST_LOSS_DB = 60.0
MOST_STRETCHES = 5


@dataclass(frozen=True, slots=True)
class _Sums:
    """Energies of the left and right channel and their product, any shape."""

    left: Floats
    right: Floats
    cross: Floats

    @property
    def both(self) -> Floats:
        return self.left + self.right

    def rho(self) -> Floats:
        """Return the correlation; 0 where a channel is silent."""
        product = np.sqrt(np.maximum(self.left * self.right, 0.0))
        return np.clip(np.divide(self.cross, product, out=np.zeros_like(product), where=product > 0.0), -1.0, 1.0)

    def rho_prime(self) -> Floats:
        """Return rho' = 2 LR / (LL + RR); 0 where both are silent."""
        both = self.both
        return np.clip(np.divide(2.0 * self.cross, both, out=np.zeros_like(both), where=both > 0.0), -1.0, 1.0)

    def windows(self, width: int, hop: int) -> "_Sums":
        """Return sums over ``width`` steps of the first axis, every ``hop``."""
        return _Sums(*(_windowed(row, width, hop) for row in (self.left, self.right, self.cross)))

    def whole(self) -> "_Sums":
        return _Sums(self.left.sum(axis=0), self.right.sum(axis=0), self.cross.sum(axis=0))


def _windowed(values: Floats, width: int, hop: int) -> Floats:
    count = max((values.shape[0] - width) // hop + 1, 0)
    total = np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0, dtype=np.float64)])
    starts = np.arange(count) * hop
    return np.asarray(total[starts + width] - total[starts], np.float64)


def fold_loss_db(rho_prime: Floats) -> Floats:
    """Return the level lost in mono for ``rho_prime``.

    At most 60 dB.

    Examples
    --------
    >>> fold_loss_db(np.array([1.0, 0.0, -0.6])).round(2).tolist()
    [0.0, 3.01, 6.99]
    """
    share = np.maximum((1.0 + rho_prime) / 2.0, 10.0 ** (-MOST_LOSS_DB / 10.0))
    return np.asarray(0.0 - 10.0 * np.log10(share), np.float64)


def _nothing(reason: str, sums: _Sums, spectrogram: Spectrogram, *, mono: bool) -> Stereo:
    names = ("correlation", "mono_loss_db", "balance_db", "side_share", "delay_ms")
    count = len(spectrogram.band_hz)
    nothing: tuple[None, ...] = (None,) * count
    empty = Course("", WINDOW_S / 2.0, HOP_S, ())
    return Stereo(
        correlation=None, mono_loss_db=None, balance_db=None, side_share=None,
        band_hz=tuple(float(hz) for hz in spectrogram.band_hz),
        band_correlation=nothing, band_mono_loss_db=nothing, band_side_db=nothing,
        band_energy_share=_shares(_band_sums(spectrogram).whole().both),
        band_negative_share=nothing, band_worst=nothing,
        polarity_inverted=False, delay_ms=None,
        correlation_over_time=Course("", empty.start_s, HOP_S, (None,) * _count(sums) if not mono else ()),
        balance_over_time=Course("dB", empty.start_s, HOP_S, (None,) * _count(sums) if not mono else ()),
        worst=(), band_mirrored_share=(0.0,) * count, absent=tuple(Absence(name, reason) for name in names),
    )  # fmt: skip


def _count(sums: _Sums) -> int:
    return max((int(sums.left.shape[0]) - 300) // 100 + 1, 0)


def _shares(energy: Floats) -> tuple[float, ...]:
    total = float(energy.sum())
    return tuple(float(band / total) if total > 0.0 else 0.0 for band in energy)


def _band_sums(spectrogram: Spectrogram) -> _Sums:
    parts = (spectrogram.left, spectrogram.right, spectrogram.cross)
    return _Sums(*(np.asarray(part, np.float64) for part in parts))


def _loud(power: Floats, floor: float) -> NDArray[np.bool_]:
    """Return where ``power`` (windows along the first axis) is within 25 dB of its loud moments and above ``floor``."""
    gate = np.quantile(power, 0.95, axis=0) * 10.0 ** (-GATE_DB / 10.0)
    return np.asarray(power > np.maximum(gate, floor))


def _course(unit: str, values: Floats, known: NDArray[np.bool_]) -> Course:
    shown = tuple(float(value) if plays else None for value, plays in zip(values, known, strict=True))
    return Course(unit, WINDOW_S / 2.0, HOP_S, shown)


def _worst(loss_db: Floats, loud: NDArray[np.bool_], typical_db: float) -> tuple[Moment, ...]:
    """Return where 3 s windows lose clearly more than the song does (1 dB) and at least 2 dB; neighbours become one stretch."""
    moments: list[Moment] = []
    for at in np.flatnonzero(loud & (loss_db >= max(typical_db + 1.0, 2.0))).tolist():
        start, value = at * HOP_S, float(loss_db[at])
        if moments and start <= moments[-1].end_s:
            moments[-1] = Moment(moments[-1].start_s, start + WINDOW_S, max(value, moments[-1].value))
        else:
            moments.append(Moment(start, start + WINDOW_S, value))
    return tuple(sorted(moments, key=lambda moment: -moment.value)[:MOST_STRETCHES])


@dataclass(frozen=True, slots=True)
class _BandReadings:
    correlation: tuple[float | None, ...]
    mono_loss_db: tuple[float | None, ...]
    side_db: tuple[float | None, ...]
    energy_share: tuple[float, ...]
    negative_share: tuple[float | None, ...]
    worst: tuple[Span | None, ...]


def _some(values: Floats, known: NDArray[np.bool_]) -> tuple[float | None, ...]:
    return tuple(float(value) if plays else None for value, plays in zip(values, known, strict=True))


def _bands(spectrogram: Spectrogram) -> _BandReadings:
    sums = _band_sums(spectrogram)
    whole = sums.whole()
    share = np.array(_shares(whole.both))
    known = share > LEAST_BAND_SHARE
    side = np.maximum(whole.both - 2.0 * whole.cross, 1e-6 * whole.both)
    mid = np.maximum(whole.both + 2.0 * whole.cross, 1e-6 * whole.both)
    side_db = 10.0 * np.log10(np.divide(side, mid, out=np.ones_like(side), where=mid > 0.0))
    frames = sums.left.shape[0]
    second = sums.windows(min(max(round(1.0 / spectrogram.hop_s), 1), max(frames, 1)), max(round(0.5 / spectrogram.hop_s), 1))
    active = _loud(second.both, 1e-14)
    negative = (active & (second.rho_prime() < 0.0)).sum(axis=0) / np.maximum(active.sum(axis=0), 1)
    return _BandReadings(
        correlation=_some(whole.rho(), known),
        mono_loss_db=_some(fold_loss_db(whole.rho_prime()), known),
        side_db=_some(side_db, known),
        energy_share=tuple(share.tolist()),
        negative_share=_some(negative, known & active.any(axis=0)),
        worst=_band_worst(sums, spectrogram.hop_s, known),
    )


def _band_worst(sums: _Sums, hop_s: float, known: NDArray[np.bool_]) -> tuple[Span | None, ...]:
    """Return, per band, the 5 s (less in shorter songs) of playing sound in which rho' is lowest."""
    frames = sums.left.shape[0]
    width = min(max(round(5.0 / hop_s), 1), frames)
    hop = max(round(0.5 / hop_s), 1)
    windows = sums.windows(width, hop)
    rho_prime = np.where(_loud(windows.both, 1e-14 * width), windows.rho_prime(), 2.0)
    lowest = rho_prime.argmin(axis=0)
    spans: list[Span | None] = []
    for band, at in enumerate(lowest.tolist()):
        start = at * hop * hop_s
        playing = bool(known[band]) and rho_prime[at, band] <= 1.0
        spans.append(Span(start, start + width * hop_s) if playing else None)
    return tuple(spans)


def _is_inverted(spectrogram: Spectrogram, correlation: float) -> bool:
    """Return whether one channel is upside down.

    Correlation is below -0.8 for most of the playing time in bands that hold most of the energy, and below -0.1 in most bands: rooms and
    wide sounds bring the others near zero, but an upside-down channel leaves none clearly positive.
    """
    sums = _band_sums(spectrogram)
    if correlation >= INVERTED or sums.left.shape[0] == 0:
        return False
    second = sums.windows(min(max(round(1.0 / spectrogram.hop_s), 1), sums.left.shape[0]), max(round(0.5 / spectrogram.hop_s), 1))
    share = np.array(_shares(sums.whole().both))
    active = _loud(second.both, 1e-14)
    inverted = (active & (second.rho() < INVERTED)).sum(axis=0) >= 0.6 * np.maximum(active.sum(axis=0), 1)
    present = share > 1e-5
    turned = sums.whole().rho()[present] < -0.1
    return bool(share[inverted & present].sum() >= 0.6 and turned.mean() >= 0.7)


@measurement
def measure_stereo(level_trace: LevelTrace, spectrogram: Spectrogram) -> Stereo:
    """Return the stereo readings of a song.

    Parameters
    ----------
    level_trace
        Energies and K-weighted energies of both channels in 10 ms steps.
    spectrogram
        Third-octave powers of both channels and of their product, and their long-term cross-spectrum.

    Notes
    -----
    A band's negative share counts seconds (hop half a second) within 25 dB of the band's own P95 whose rho' is below 0. Mono loss is the
    gated BS.1770 loudness of the song minus that of ``0.5 (L + R)`` on both channels. Mono files and a silent channel give ``None``.
    """
    energy = np.asarray(level_trace.energy, np.float64)
    cross = np.asarray(level_trace.cross, np.float64)
    sums = _Sums(energy[0], energy[-1], cross if energy.shape[0] == 2 else energy[0])
    if energy.shape[0] < 2:
        return _nothing("the file has one channel", sums, spectrogram, mono=True)
    mean = energy.mean(axis=1) if energy.shape[1] else np.zeros(2)
    if mean.max() < SILENT_POWER:
        return _nothing("the file is silent", sums, spectrogram, mono=False)
    if mean.min() < SILENT_POWER or mean.min() < 1e-9 * mean.max():
        return _nothing("one channel is silent", sums, spectrogram, mono=False)
    return _measure(level_trace, spectrogram, sums)


def _measure(level_trace: LevelTrace, spectrogram: Spectrogram, sums: _Sums) -> Stereo:
    whole = sums.whole()
    correlation = float(whole.rho())
    side_share = float((whole.both - 2.0 * whole.cross) / (2.0 * whole.both))
    weighted = np.asarray(level_trace.k_energy, np.float64)
    loudness = _Sums(weighted[0], weighted[1], np.asarray(level_trace.k_cross, np.float64)).windows(300, 100)
    plain = sums.windows(300, 100)
    loud = _loud(loudness.both, 300 * SILENT_POWER) if loudness.both.size else np.zeros(0, bool)
    loss_db = fold_loss_db(loudness.rho_prime())
    balance_db = 10.0 * np.log10(np.maximum(loudness.left, 1e-12) / np.maximum(loudness.right, 1e-12))
    mono_loss_db, song_balance_db = _loudness_readings(level_trace)
    bands = _bands(spectrogram)
    delay_ms, reason = fixed_delay_ms(spectrogram)
    absent = [Absence("delay_ms", reason)] if delay_ms is None else []
    absent += [Absence(name, "too short or too quiet for gated loudness") for name, value in
               (("mono_loss_db", mono_loss_db), ("balance_db", song_balance_db)) if value is None]  # fmt: skip
    return Stereo(
        correlation=correlation,
        mono_loss_db=mono_loss_db,
        balance_db=song_balance_db,
        side_share=min(max(side_share, 0.0), 1.0),
        band_hz=tuple(float(hz) for hz in spectrogram.band_hz),
        band_correlation=bands.correlation,
        band_mono_loss_db=bands.mono_loss_db,
        band_side_db=bands.side_db,
        band_energy_share=bands.energy_share,
        band_negative_share=bands.negative_share,
        band_worst=bands.worst,
        polarity_inverted=_is_inverted(spectrogram, correlation),
        delay_ms=delay_ms,
        correlation_over_time=_course("", plain.rho(), loud),
        balance_over_time=_course("dB", balance_db, loud),
        worst=_worst(loss_db, loud, mono_loss_db if mono_loss_db is not None else 0.0),
        band_mirrored_share=tuple(mirrored_shares(spectrogram).tolist()),
        absent=tuple(absent),
    )


def _loudness_readings(level_trace: LevelTrace) -> tuple[float | None, float | None]:
    """Return mono loss and balance from gated loudness."""
    song, folded = level.integrated_from_steps(level_trace.k_sum()), level.mono_fold_loudness(level_trace)
    left, right = level.channel_loudness(level_trace)
    loss = None if song is None else MOST_LOSS_DB if folded is None else min(song - folded, MOST_LOSS_DB)
    return loss, None if left is None or right is None else left - right
