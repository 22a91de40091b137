"""Kick against bass.

Whether they add or cancel below 150 Hz where they sound together, and what polarity or delay would change.

Over the kicks under which the bass plays, with ``K`` and ``B`` the two waves from 25 to 150 Hz in the window of each kick:

``G = 10 log10(sum |K + B| ** 2 / sum (|K| ** 2 + |B| ** 2)) = 10 log10(1 + 2 C / (E_K + E_B))``, ``C = sum K B``.

Waves that have nothing to do with one another give about 0 dB, since ``C`` differs in sign from kick to kick; the spread between
kicks shows that. Below -1 dB they cancel, above +2 dB they pile up (own limits, see the rules). A delay of the bass by ``d`` puts
``C(d) = sum K(t) B(t - d)`` in the place of ``C``.

Under a loud bass ``G`` hardly moves, whatever becomes of the kick. What the bass holds of the kick's own wave is the factor
``c = C / E_K``, and ``20 log10 |1 + c|`` is what is left of the kick: unrelated waves differ in sign from kick to kick and leave
``c`` near 0.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from features.elements.dynamics.envelope import LOW_DELAY_S, STEP_S, STEPS_PER_S, EnvelopeTrace
from features.elements.groups.strays import find_peaks
from features.hearing.masking import LOUDNESS_EXPONENT, OFFSET_DB, SOFT_DB
from features.hits.audibility import worst_windows
from features.records.base import Span
from features.records.elements import KickAndBass
from features.sound.bands import octave_overlap

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

BAND_HZ = (25.0, 150.0)
TAPS = 161  # at 1 kHz: edges some 15 Hz wide
SMOOTH_STEPS = 30
KICK_BELOW_DB = 12.0  # under the strong kicks: leaks and ghosts
STRONG = 0.9
BEFORE_STEPS, AFTER_STEPS = 40, 120  # around the highest 30 ms of a kick
BASS_BELOW_DB = 15.0  # under the kick, and no less than 20 dB under its own usual level: it plays
BASS_REST_DB = 20.0
FEWEST_HITS = 6
MOST_DELAY_STEPS = 10
FINE = 16  # steps of the delay to one millisecond
FRAME = 64
HOP = 16
EAR_EDGES_HZ = (25.0, 60.0, 100.0, 150.0)  # about one Cam each
THIRDS_FROM_HZ, THIRDS = 25.0, 10  # third octaves, 25 to 200 Hz
CANCEL_DB = -1.0
LEAST_LEFT = 0.01  # -40 dB: all but gone
MOST_SPANS = 5


@dataclass(frozen=True, slots=True)
class _Together:
    """The kicks under which the bass plays; one row per kick."""

    times_s: Floats
    kick: Floats
    bass: Floats

    def products(self) -> tuple[Floats, Floats]:
        """Return energies and cross products per kick, shape ``(hits,)`` each."""
        inside = slice(MOST_DELAY_STEPS, self.kick.shape[1] - MOST_DELAY_STEPS)
        kick, bass = self.kick[:, inside], self.bass[:, inside]
        return (kick**2 + bass**2).sum(axis=1), (kick * bass).sum(axis=1)

    def share_of_kick(self) -> float:
        """Return how much of the kick's own wave the bass holds: the factor ``sum K B / sum K K``, negative where it pulls against it."""
        inside = slice(MOST_DELAY_STEPS, self.kick.shape[1] - MOST_DELAY_STEPS)
        kick, bass = self.kick[:, inside], self.bass[:, inside]
        return float((kick * bass).sum() / (kick**2).sum())


def measure_kick_and_bass(kick: EnvelopeTrace, bass: EnvelopeTrace, kick_name: str = "kick", bass_name: str = "bass") -> KickAndBass | None:
    """Measure how kick and bass sum below 150 Hz.

    Parameters
    ----------
    kick, bass
        Their envelopes, on one time line.
    kick_name, bass_name
        What they are called.

    Returns
    -------
    KickAndBass | None
        None when there are fewer than six kicks under which the bass plays. ``best_delay_ms`` is within 10 ms either way, positive
        where the bass has to come later.
    """
    together = _together(_band(kick.low), _band(bass.low))
    if together is None:
        return None
    energy, cross = together.products()
    total, plain = float(energy.sum()), float(cross.sum())
    gains_db = _gain_db(energy, cross)
    delay_ms, best = _best_delay(together, total)
    return KickAndBass(
        kick=kick_name,
        bass=bass_name,
        sum_gain_db=float(_gain_db(total, plain)),
        hits=len(energy),
        flipped_gain_db=float(_gain_db(total, -plain)),
        best_delay_ms=delay_ms,
        best_gain_db=best,
        kick_audible_share=_audible_share(together),
        overlap=_overlap(together),
        where=_where(together.times_s, gains_db),
        gain_spread_db=float(np.std(gains_db)),
        flip_helps_share=float(np.mean(cross < 0.0)),
        kick_left_db=_left_db(1.0 + together.share_of_kick()),
        kick_flipped_db=_left_db(1.0 - together.share_of_kick()),
    )


def _left_db(share: float) -> float:
    return float(20 * np.log10(max(abs(share), LEAST_LEFT)))


def _gain_db(energy: Floats | float, cross: Floats | float) -> Floats:
    share = np.maximum(1 + 2 * np.asarray(cross) / np.asarray(energy), 1e-4)  # -40 dB: all but gone
    return np.asarray(10 * np.log10(share), np.float64)


def _band(low: NDArray[np.float32]) -> Floats:
    """Return the wave from 25 to 150 Hz, without delay: windowed-sinc band-pass."""
    distance = np.arange(TAPS) - TAPS // 2
    ideal = [2 * edge / STEPS_PER_S * np.sinc(2 * edge / STEPS_PER_S * distance) for edge in BAND_HZ]
    taps = (ideal[1] - ideal[0]) * np.hamming(TAPS)
    if not low.size:
        return np.zeros(0)
    wave = np.convolve(low.astype(np.float64), taps)
    return np.asarray(wave[TAPS // 2 : TAPS // 2 + low.size])


def _together(kick: Floats, bass: Floats) -> _Together | None:
    count = min(kick.size, bass.size)
    kick, bass = kick[:count], bass[:count]
    if count < FRAME:
        return None
    smooth = np.full(SMOOTH_STEPS, 1.0 / SMOOTH_STEPS)
    kick_power, bass_power = (np.maximum(np.convolve(wave**2, smooth, mode="same"), 0.0) for wave in (kick, bass))
    places = find_peaks(np.sqrt(kick_power).astype(np.float32))
    margin = BEFORE_STEPS + MOST_DELAY_STEPS, AFTER_STEPS + MOST_DELAY_STEPS
    places = places[(places >= margin[0]) & (places + margin[1] <= count)]
    if not places.size:
        return None
    strong = np.quantile(kick_power[places], STRONG)
    places = places[kick_power[places] > strong * 10 ** (-KICK_BELOW_DB / 10)]
    rows = places[:, None] + np.arange(-margin[0], margin[1])
    kicks, basses = kick[rows], bass[rows]
    energy, under = (kicks**2).sum(axis=1), (basses**2).sum(axis=1)
    usual = float(np.quantile(bass_power, STRONG)) * rows.shape[1]
    plays = (under > energy * 10 ** (-BASS_BELOW_DB / 10)) & (under > usual * 10 ** (-BASS_REST_DB / 10))
    if np.count_nonzero(plays) < FEWEST_HITS:
        return None
    return _Together(places[plays] * STEP_S - LOW_DELAY_S, kicks[plays], basses[plays])


def _best_delay(together: _Together, energy: float) -> tuple[float, float]:
    """Return the delay of the bass in ms at which both sum best, and the gain there."""
    inside = slice(MOST_DELAY_STEPS, together.kick.shape[1] - MOST_DELAY_STEPS)
    kick = together.kick[:, inside]
    width = kick.shape[1]
    lags = np.arange(-MOST_DELAY_STEPS, MOST_DELAY_STEPS + 1)
    cross = np.array([(kick * together.bass[:, MOST_DELAY_STEPS - lag : MOST_DELAY_STEPS - lag + width]).sum() for lag in lags])
    fine = np.linspace(-MOST_DELAY_STEPS, MOST_DELAY_STEPS, 2 * MOST_DELAY_STEPS * FINE + 1)
    curve = _between(lags.astype(np.float64), cross, fine)
    place = int(np.argmax(curve))
    return float(fine[place]) * 1000 * STEP_S, float(_gain_db(energy, float(curve[place])))


def _between(at: Floats, values: Floats, wanted: Floats) -> Floats:
    """Return values between samples 1 ms apart by cubic pieces (Catmull-Rom); nothing here is above 150 Hz, so that is enough."""
    low = np.clip(np.floor(wanted - at[0]).astype(np.int64), 0, len(at) - 2)
    share = wanted - at[0] - low
    padded = np.concatenate([[2 * values[0] - values[1]], values, [2 * values[-1] - values[-2]]])
    a, b, c, d = (padded[low + shift] for shift in range(4))
    return np.asarray(b + share / 2 * (c - a + share * (2 * a - 5 * b + 4 * c - d + share * (3 * (b - c) + d - a))))


def _spectra(rows: Floats) -> Floats:
    """Return power spectra of frames of 64 ms, shape ``(hits, frames, bins)``."""
    starts = np.arange(0, rows.shape[1] - FRAME + 1, HOP)
    frames = rows[:, starts[:, None] + np.arange(FRAME)] * np.hanning(FRAME)
    return np.asarray(np.abs(np.fft.rfft(frames, 4 * FRAME, axis=2)) ** 2)


def _audible_share(together: _Together) -> float | None:
    """Return the share of the kick's loudness that clears the bass, in three bands (as `features.hearing.masking.audible_parts`)."""
    hz = np.fft.rfftfreq(4 * FRAME, STEP_S)
    band = np.array([(hz >= low) & (hz < high) for low, high in pairwise(EAR_EDGES_HZ)], np.float64)
    kick, bass = (_spectra(rows) @ band.T for rows in (together.kick, together.bass))
    weight = kick**LOUDNESS_EXPONENT
    over_db = 10 * np.log10(np.maximum(kick, 1e-30) / np.maximum(bass * 10 ** (-OFFSET_DB / 10), 1e-30))
    audible = weight * np.clip(0.5 + 0.5 * over_db / SOFT_DB, 0.0, 1.0)
    return float(audible.sum() / weight.sum()) if weight.sum() > 0.0 else None


def _overlap(together: _Together) -> float | None:
    """Return ``sum min(p_kick, p_bass)`` of both third-octave spectra, averaged over an octave and scaled to a sum of 1."""
    edges = THIRDS_FROM_HZ * 2 ** ((np.arange(THIRDS + 1) - 0.5) / 3)
    hz = np.fft.rfftfreq(1024, STEP_S)
    spectra = []
    for rows in (together.kick, together.bass):
        power = (np.abs(np.fft.rfft(rows * np.hanning(rows.shape[1]), 1024, axis=1)) ** 2).sum(axis=0)
        total = np.concatenate([[0.0], np.cumsum(power)])
        spectra.append(np.diff(np.interp(edges, hz, total[:-1])))
    return octave_overlap(*spectra)


def _where(times_s: Floats, gain_db: Floats) -> tuple[Span, ...]:
    worst = worst_windows(times_s, gain_db, MOST_SPANS)
    return tuple(Span(moment.start_s, moment.end_s) for moment in worst if moment.value < CANCEL_DB)
