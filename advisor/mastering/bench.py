"""A song on the bench.

Any mastering chain tried on it quickly, judged by the limiter outlook's readings of damage.

The whole song stands there per millisecond (peaks and K-weighted energies), its densest stretch as samples. Glue and limiter multiply by a
gain, which the milliseconds follow exactly; what a curve does to them (saturation, waveshaper) is read on the stretch, by the level of the
millisecond, and carried to the whole song. Damage is read on the stretch, from the finished sound against the mix: the gain per
millisecond that links both, and what its slow part leaves unexplained.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.mastering.chain import LOOK_AHEAD_S, Chain, Glue, Saturation
from advisor.outcomes.benefit import damage_steps
from advisor.outcomes.outcomes import Damage as HeardDamage
from advisor.sources.excerpt import read_span
from features.limiting.damage import damage_shares
from features.limiting.distortion import FLOOR_DB, WORST_FROM, MaskedMusic, slow_gain
from features.limiting.drive import STEPS_PER_S, Steps, hit_loss_db, psr_db, pumping_db
from features.limiting.outlook import OutlookTrace
from features.limiting.sweep import MOST_DRIVE_DB
from features.loudness.gating import energy_at
from features.processors.dynamics.compressor import Curve, GainReduction, Timing
from features.processors.dynamics.limiter import Setting, gain_curve, true_peak_envelope
from features.processors.dynamics.waveshaper import raise_body
from features.records.base import Measurement, Span
from features.records.hits import Hits
from features.records.level import Level
from features.records.outlook import Outlook
from features.sound.decibels import amplitude_to_db, db_to_amplitude
from features.sound.k_weighting import STATE_SIZE, energies, k_weighting
from features.sound.signal import Samples, Signal, Source

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

STRETCH_S = 12.0
CLOSE_LU = 0.01
MOST_TURNS = 12
DENSITY_STEP_DB = 0.5
BIN_DB, LOWEST_DB = 1.0, -60.0
LEAST_IN_BIN = 8
SILENT = 1e-10
LOWEST_DRIVEN = db_to_amplitude(-MOST_DRIVE_DB)  # of the peak: what lies below needs no values between samples


@dataclass(frozen=True, slots=True)
class Premaster:
    """What is to be mastered.

    The song, its milliseconds, where it is densest, its hits.
    """

    source: Source
    steps: Steps
    peak: float
    densest: Span
    hit_times_s: tuple[float, ...]


def premaster(source: Source, records: dict[type[Measurement], Measurement], trace: OutlookTrace | None) -> Premaster | None:
    """Return what is to be mastered.

    None where it is silent, too short or could not be measured.
    """
    outlook, level, hits = records.get(Outlook), records.get(Level), records.get(Hits)
    if trace is None or not isinstance(outlook, Outlook) or outlook.clean_lufs is None or not isinstance(level, Level):
        return None
    peak = max(db_to_amplitude(level.true_peak_dbtp or -120.0), float(trace.steps.envelope.max(initial=0.0)))
    middle = 0.5 * (outlook.excerpt.start_s + outlook.excerpt.end_s)
    half = 0.5 * min(STRETCH_S, outlook.excerpt.end_s - outlook.excerpt.start_s)
    times = hits.times_s if isinstance(hits, Hits) else ()
    return Premaster(source, trace.steps, peak, Span(round(middle - half, 3), round(middle + half, 3)), times)


@dataclass(frozen=True, slots=True)
class Damage:
    """The four readings of damage and the PSR.

    ``shares`` says how much of its limit each uses up (1: heard).
    """

    distortion_nmr_db: float
    pumping_db: float
    hit_loss_db: float
    density: float
    psr_db: float

    @property
    def shares(self) -> Mapping[str, float]:
        """Return how much of its limit each reading uses up."""
        return damage_shares(self.distortion_nmr_db, self.pumping_db, self.hit_loss_db, self.density)

    @property
    def steps(self) -> float:
        """Return how much is heard, in the outcomes' steps."""
        return damage_steps(HeardDamage(self.distortion_nmr_db, self.pumping_db, self.hit_loss_db))

    @property
    def clean(self) -> bool:
        """Whether no reading passes its limit."""
        return max(self.shares.values()) <= 1.0

    @property
    def worst(self) -> str:
        """Return the reading nearest to its limit or farthest past."""
        return max(self.shares.items(), key=lambda reading: reading[1])[0]


@dataclass(frozen=True, slots=True)
class Reached:
    """A chain at a loudness, with its damage and sound.

    The sound is the stretch through the chain, with peaks at 1.
    """

    chain: Chain
    lufs: float
    damage: Damage
    sound: Samples


@dataclass(frozen=True, slots=True)
class Front:
    """The song as it meets the limiter.

    The stretch as samples, its true-peak envelope, milliseconds of the stretch and of the song.
    """

    samples: Samples
    envelope: Singles
    part: Steps
    whole: Steps
    peak: float


@dataclass(frozen=True, slots=True)
class Bend:
    """What a curve does to milliseconds, by their level.

    Change of peak and of energy in dB.
    """

    level_db: Floats
    peak_db: Floats
    energy_db: Floats

    def apply(self, steps: Steps) -> Steps:
        """Return milliseconds after the curve."""
        level_db = 20 * np.log10(np.maximum(steps.envelope, 1e-6))
        peak, energy = (np.interp(level_db, self.level_db, change) for change in (self.peak_db, self.energy_db))
        return Steps((steps.envelope * 10 ** (peak / 20)).astype(np.float32), (steps.energy * 10 ** (energy / 10)).astype(np.float32))


def bend_between(before: Steps, after: Steps) -> Bend:
    """Read a curve off a stretch before and after it.

    Medians over levels of 1 dB.
    """
    level_db = 20 * np.log10(np.maximum(before.envelope, 1e-6))
    peak_db = 20 * np.log10(np.maximum(after.envelope, 1e-6)) - level_db
    energy_db = 10 * np.log10(np.maximum(after.energy, SILENT) / np.maximum(before.energy, SILENT))
    bins = np.floor((level_db - LOWEST_DB) / BIN_DB).astype(np.intp)
    rows = [
        (LOWEST_DB + (number + 0.5) * BIN_DB, float(np.median(peak_db[here])), float(np.median(energy_db[here])))
        for number in range(max(int(bins.max(initial=-1)) + 1, 0))
        if np.count_nonzero(here := bins == number) >= LEAST_IN_BIN
    ]
    table = np.array(rows) if rows else np.zeros((1, 3))
    return Bend(table[:, 0], table[:, 1], table[:, 2])


def milliseconds(samples: Samples, rate_hz: int, envelope: Singles) -> Steps:
    """Return a stretch per millisecond, given its true-peak envelope."""
    count = samples.shape[1] * STEPS_PER_S // rate_hz
    edges = np.arange(count + 1, dtype=np.int64) * rate_hz // STEPS_PER_S
    by_channel = energies(samples[0], samples[-1], edges, k_weighting(rate_hz), np.zeros(STATE_SIZE))
    energy = by_channel[0] + by_channel[1] if samples.shape[0] > 1 else by_channel[0]
    peaks = np.maximum.reduceat(envelope, edges[:-1]) if count else np.zeros(0, np.float32)
    return Steps(peaks, energy.astype(np.float32))


class ChainBench:
    """Tries chains on one song."""

    def __init__(self, song: Premaster, ceiling_dbtp: float) -> None:
        """Read the densest stretch."""
        self.song, self.ceiling_dbtp, self.rate_hz = song, ceiling_dbtp, song.source.rate_hz
        self.mix = read_span(song.source, song.densest).samples
        envelope = true_peak_envelope(self.mix, song.peak * LOWEST_DRIVEN)
        part = milliseconds(self.mix, self.rate_hz, envelope)
        self._edges = np.arange(part.energy.size) * self.rate_hz // STEPS_PER_S
        self._own = np.add.reduceat(np.square(self.mix, dtype=np.float64).sum(axis=0), self._edges)
        self._hits = np.round((np.array(song.hit_times_s, np.float64) - song.densest.start_s) * STEPS_PER_S).astype(np.intp)
        self._music = MaskedMusic(self.mix, self.rate_hz, energy_at(part.integrated_lufs() or -70.0))
        self._plain = Front(self.mix, envelope, part, song.steps, song.peak)
        self._bends: dict[tuple[object, ...], tuple[Bend, float]] = {}
        self.front = lru_cache(maxsize=4)(self._front)

    def stretch(self) -> Signal:
        """Return the stretch of the mix."""
        return Signal(self.mix, self.rate_hz)

    def saturation(self, glue: Glue | None, drive_db: float) -> Saturation:
        """Return a saturation that the song's highest peak fills.

        That peak meets the curve at full scale.
        """
        return Saturation(drive_db, -20 * float(np.log10(self.front(glue, None).peak)))

    def _front(self, glue: Glue | None, saturation: Saturation | None) -> Front:
        front = self._plain if glue is None else self._glued(glue)
        if saturation is None:
            return front
        made = saturation.process(Signal(front.samples, self.rate_hz)).samples
        raised = db_to_amplitude(saturation.into_db)
        part, whole = (
            Steps(steps.envelope * np.float32(raised), steps.energy * np.float32(raised**2)) for steps in (front.part, front.whole)
        )
        envelope = true_peak_envelope(made, LOWEST_DRIVEN)
        after = milliseconds(made, self.rate_hz, envelope)
        bent = bend_between(part, after).apply(whole)
        return Front(made, envelope, after, bent, float(bent.envelope.max(initial=SILENT)))

    def _glued(self, glue: Glue) -> Front:
        """Compress the stretch.

        The song's milliseconds follow at a threshold that gives the same mean reduction on the stretch.
        """
        made = glue.process(self.stretch()).samples
        wanted_db = float(np.mean(20 * np.log10(np.maximum(self._gain(made), 1e-4))))
        low, high = glue.threshold_dbfs - 6.0, glue.threshold_dbfs + 12.0
        for _ in range(12):
            middle = 0.5 * (low + high)
            mean_db = -float(_taken_db(self._plain.part.envelope, glue, middle).mean())
            low, high = (middle, high) if mean_db < wanted_db else (low, middle)
        gain = (10 ** (-_taken_db(self._plain.whole.envelope, glue, 0.5 * (low + high)) / 20)).astype(np.float32)
        whole = Steps(self._plain.whole.envelope * gain, self._plain.whole.energy * np.square(gain))
        peak = float(whole.envelope.max(initial=SILENT))
        envelope = true_peak_envelope(made, peak * LOWEST_DRIVEN)
        return Front(made, envelope, milliseconds(made, self.rate_hz, envelope), whole, peak)

    def reach(self, chain: Chain, target_lufs: float) -> Reached:
        """Find a chain's gain for a loudness, and its damage.

        The chain's own gain is where to start.
        """
        front = self.front(chain.glue, chain.saturation)
        chain = replace(chain, trim_db=self._trim_db(front, chain))
        drive, lufs = self._drive(front, chain, target_lufs)
        up, down = (self._lufs(front, chain, drive + step) for step in (DENSITY_STEP_DB, -DENSITY_STEP_DB))
        sound = self._sound(front, chain, drive)
        gain_db = drive + self.ceiling_dbtp - 20 * float(np.log10(front.peak))
        psr = self._psr_db(front, chain, drive)
        damage = self._damage(sound, (up - down) / (2 * DENSITY_STEP_DB), psr)
        return Reached(replace(chain, gain_db=gain_db, drive_db=drive), lufs, damage, sound)

    def _drive(self, front: Front, chain: Chain, target_lufs: float) -> tuple[float, float]:
        """Find the drive for a loudness by regula falsi.

        Within what the bench can do; loudness grows with drive.
        """
        drive = min(max(chain.drive_db, 0.0), MOST_DRIVE_DB)
        lufs = self._lufs(front, chain, drive)
        low, high = -60.0, MOST_DRIVE_DB
        slope = 0.85
        for _ in range(MOST_TURNS):
            missing = target_lufs - lufs
            if abs(missing) < CLOSE_LU or (missing > 0 and drive >= MOST_DRIVE_DB):
                break
            low, high = (drive, high) if missing > 0 else (low, drive)
            step = drive + missing / slope
            step = step if low < step < high else (MOST_DRIVE_DB if step >= MOST_DRIVE_DB == high else 0.5 * (low + high))
            step_lufs = self._lufs(front, chain, step)
            if step != drive:
                slope = min(max((step_lufs - lufs) / (step - drive), 0.1), 1.5)
            drive, lufs = step, step_lufs
        return drive, lufs

    def _after(self, front: Front, chain: Chain, drive_db: float, steps: Steps) -> Steps:
        """Return milliseconds after limiter and waveshaper, ceiling at 1."""
        threshold = front.peak * db_to_amplitude(-drive_db)
        factor = np.full(steps.energy.size, 1 / threshold, np.float32)
        if drive_db > 0.0:
            factor *= steps.gain(threshold, Setting(LOOK_AHEAD_S, chain.release_s))
        limited = Steps(steps.envelope * factor, steps.energy * np.square(factor))
        return self._bend(front, chain)[0].apply(limited) if chain.raise_db else limited

    def _lufs(self, front: Front, chain: Chain, drive_db: float) -> float:
        loudness = self._after(front, chain, drive_db, front.whole).integrated_lufs()
        return (-70.0 if loudness is None else loudness) + self.ceiling_dbtp + chain.trim_db

    def _psr_db(self, front: Front, chain: Chain, drive_db: float) -> float:
        after = self._after(front, chain, drive_db, front.part)
        return psr_db(after, np.ones_like(after.energy))

    def _limited(self, front: Front, chain: Chain, drive_db: float) -> Samples:
        """Return the stretch after the limiter, ceiling at 1."""
        threshold = front.peak * db_to_amplitude(-drive_db)
        factor = np.full(front.envelope.size, 1 / threshold, np.float32)
        if drive_db > 0.0:
            factor *= gain_curve(front.envelope, threshold, self.rate_hz, Setting(LOOK_AHEAD_S, chain.release_s))
        return front.samples * factor

    def _sound(self, front: Front, chain: Chain, drive_db: float) -> Samples:
        limited = self._limited(front, chain, drive_db)
        return raise_body(Signal(limited, self.rate_hz), chain.raise_db, 0.0).samples if chain.raise_db else limited

    def _bend(self, front: Front, chain: Chain) -> tuple[Bend, float]:
        """Return what the waveshaper does to milliseconds and true peak.

        The second number is by how many dB it lifts the true peak.
        """
        key = (chain.glue, chain.saturation, chain.raise_db)
        if key not in self._bends:
            limited = self._limited(front, chain, max(chain.drive_db, 0.0))
            shaped = raise_body(Signal(limited, self.rate_hz), chain.raise_db, 0.0).samples
            envelope = true_peak_envelope(shaped, 0.7)
            after = milliseconds(shaped, self.rate_hz, envelope)
            before = self._after(front, replace(chain, raise_db=0.0), max(chain.drive_db, 0.0), front.part)
            lifted = amplitude_to_db(max(float(envelope.max(initial=1.0)), 1.0)) or 0.0
            self._bends[key] = bend_between(before, after), lifted
        return self._bends[key]

    def _trim_db(self, front: Front, chain: Chain) -> float:
        return -self._bend(front, chain)[1] if chain.raise_db else 0.0

    def _gain(self, sound: Samples) -> Singles:
        """Return the gain per millisecond from the mix to ``sound``."""
        cross = np.add.reduceat((self.mix * sound).sum(axis=0, dtype=np.float64), self._edges)
        known = self._own > SILENT * max(float(self._own.max(initial=0.0)), 1e-12)
        gain = np.ones(cross.size)
        gain[known] = np.maximum(cross[known] / self._own[known], 1e-4)
        if known.any():
            places = np.arange(cross.size)
            gain = np.interp(places, places[known], gain[known])
        return gain.astype(np.float32)

    def _damage(self, sound: Samples, density: float, psr: float) -> Damage:
        gain = self._gain(sound)
        even = (gain / np.float32(np.median(gain))).astype(np.float32)
        at = np.arange(self.mix.shape[1]) * (STEPS_PER_S / self.rate_hz) - 0.5
        slow = np.interp(at, np.arange(gain.size), slow_gain(gain, STEPS_PER_S)).astype(np.float32)
        ratios = np.sort(self._music.noise_to_mask_db(sound - self.mix * slow, slow))
        return Damage(
            distortion_nmr_db=max(float(ratios[int(WORST_FROM * ratios.size) :].mean()), FLOOR_DB),
            pumping_db=pumping_db(even),
            hit_loss_db=hit_loss_db(self._plain.part.energy, even, self._hits),
            density=density,
            psr_db=psr,
        )


def _taken_db(envelope: Singles, glue: Glue, threshold_dbfs: float) -> Singles:
    curve = Curve(threshold_dbfs, glue.ratio, glue.knee_db)
    return GainReduction(curve, Timing(glue.attack_ms, glue.release_ms), STEPS_PER_S).follow(envelope)
