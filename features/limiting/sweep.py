"""The sweep: one song at rising drives of the limiter.

What each costs, and where the first reading of damage passes its limit.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.limiting.damage import LEAST_DENSITY, MOST_DISTORTION_DB, MOST_HIT_LOSS_DB, MOST_PUMPING_DB
from features.limiting.distortion import MaskedMusic
from features.limiting.drive import STEPS_PER_S, Steps, hit_loss_db, psr_db, pumping_db
from features.loudness.gating import ABSOLUTE_GATE_LUFS, energy_at
from features.processors.dynamics.limiter import Setting, gain_curve, true_peak_envelope
from features.records.base import Span
from features.records.outlook import DrivePoint
from features.sound.signal import Samples, Source

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

MOST_DRIVE_DB = 18.0
DRIVES_DB: Floats = np.arange(0.0, MOST_DRIVE_DB + 0.5)
POINT_DB = 2.0  # the costly readings are taken every 2 dB
BEYOND_DB = 2.0  # and go on this far past the clean drive and the target


@dataclass(frozen=True, slots=True)
class Excerpt:
    """The stretch of the song on which damage is read.

    At full rate and per millisecond.
    """

    span: Span
    samples: Samples
    envelope: Singles
    rate_hz: int
    music: MaskedMusic
    steps: Steps
    hits: NDArray[np.intp]


def take_excerpt(source: Source, steps: Steps, span: Span, hit_times_s: tuple[float, ...], peak: float) -> Excerpt | None:
    """Read a stretch of a song of known true peak.

    ``span`` and ``peak`` (linear); ``None`` when it is silent.
    """
    rate = source.rate_hz
    first = max(round(span.start_s * rate), 0)
    samples = source.read(first, round(span.end_s * rate) - first)
    part = steps.cut(first / rate, first / rate + samples.shape[1] / rate)
    level_lufs = part.integrated_lufs()
    if level_lufs is None:
        return None
    envelope = true_peak_envelope(samples, peak * 10 ** (-MOST_DRIVE_DB / 20))
    hits = np.round((np.array(hit_times_s, np.float64) - first / rate) * STEPS_PER_S).astype(np.intp)
    music = MaskedMusic(samples, rate, energy_at(level_lufs))
    return Excerpt(Span(first / rate, first / rate + samples.shape[1] / rate), samples, envelope, rate, music, part, hits)


@dataclass(frozen=True, slots=True)
class Sweep:
    """Outcome for one setting. ``loudness`` belongs to `DRIVES_DB`."""

    clean_lufs: float
    drive_db: float
    stopped_by: str
    curve: tuple[DrivePoint, ...]
    loudness: Floats


class DrivenSong:
    """One song in front of the limiter.

    The whole of it per millisecond, an excerpt at full rate.

    Parameters
    ----------
    steps, excerpt
        The whole song, and the stretch on which damage is read.
    peak
        True peak of the whole song, linear; drive is counted from the point where it touches the ceiling.
    ceiling_dbtp
        Ceiling of the limiter.
    setting
        Of the limiter.
    """

    def __init__(self, steps: Steps, excerpt: Excerpt, peak: float, ceiling_dbtp: float, setting: Setting) -> None:
        self._steps, self._excerpt, self._peak, self._setting = steps, excerpt, peak, setting
        self._offset_db = ceiling_dbtp - 20 * float(np.log10(peak))

    def threshold(self, drive_db: float) -> float:
        """Return the ceiling that meets the undriven song.

        As the real one meets the driven song.
        """
        return self._peak * 10 ** (-drive_db / 20)

    def lufs(self, drive_db: float) -> float:
        """Return the whole song's integrated loudness at a drive."""
        lufs = self._steps.integrated_lufs(self._steps.gain(self.threshold(drive_db), self._setting))
        return (ABSOLUTE_GATE_LUFS if lufs is None else lufs) + self._offset_db + drive_db

    def reduction(self, drive_db: float) -> Singles:
        """Return the gain over the excerpt per millisecond."""
        return self._excerpt.steps.gain(self.threshold(drive_db), self._setting)

    def pumping_and_hits(self, drive_db: float) -> tuple[float, float]:
        """Return the two readings that need no sound."""
        gain = self.reduction(drive_db)
        return pumping_db(gain), hit_loss_db(self._excerpt.steps.energy, gain, self._excerpt.hits)

    def distortion_db(self, drive_db: float) -> float:
        """Return the noise-to-mask ratio on the excerpt."""
        excerpt = self._excerpt
        return excerpt.music.distortion_db(gain_curve(excerpt.envelope, self.threshold(drive_db), excerpt.rate_hz, self._setting))

    def point(self, drive_db: float, distortion_db: float) -> DrivePoint:
        """Put all readings at a drive together."""
        gain = self.reduction(drive_db)
        pumping, hits = self.pumping_and_hits(drive_db)
        return DrivePoint(
            drive_db=drive_db,
            lufs=self.lufs(drive_db),
            gain_reduction_p95_db=max(float(-20 * np.log10(np.quantile(gain, 0.05))), 0.0),
            distortion_nmr_db=distortion_db,
            pumping_db=pumping,
            hit_loss_db=hits,
            psr_db=psr_db(self._excerpt.steps, gain),
        )


def crossing(drives_db: Floats, readings: Floats, limit: float) -> float | None:
    """Return the drive at which the readings pass ``limit``.

    ``None`` when they stay below. A dip after a rise does not count.

    Examples
    --------
    >>> crossing(np.array([0.0, 2.0, 4.0]), np.array([0.0, 0.5, 1.5]), 1.0)
    3.0
    """
    rising = np.maximum.accumulate(readings)
    past = int(np.searchsorted(rising, limit, side="right"))
    if past == rising.size:
        return None
    if past == 0:
        return float(drives_db[0])
    share = (limit - rising[past - 1]) / (rising[past] - rising[past - 1])
    return float(drives_db[past - 1] + share * (drives_db[past] - drives_db[past - 1]))


def density_drive(drives_db: Floats, lufs: Floats) -> float | None:
    """Return the drive past which loudness no longer follows.

    No amount of drive returns half of itself; ``None`` when there is none.
    The slope itself goes up and down where a few hits stand far above the rest. The drive that makes ``L(d) - 0.5 d`` largest
    does not: from there on every further stretch of drive brings less than 0.5 LU per dB, whatever the slope does on the way.
    """
    surplus = lufs - LEAST_DENSITY * drives_db
    best = int(np.argmax(surplus))
    if best == surplus.size - 1:
        return None
    if best == 0:
        return float(drives_db[0])
    left, middle, right = surplus[best - 1 : best + 2]
    bend = left - 2 * middle + right
    shift = 0.5 * (left - right) / bend if bend < 0 else 0.0  # top of the parabola through three points
    return float(drives_db[best] + shift * (drives_db[1] - drives_db[0]))


def drive_to(lufs: Floats, target_lufs: float) -> float | None:
    """Return the drive that reaches a loudness.

    Negative when the song is louder than that undriven, ``None`` when out of reach.
    """
    if target_lufs <= lufs[0]:
        return target_lufs - float(lufs[0])
    return crossing(DRIVES_DB, lufs, target_lufs - 1e-9)


def drive_at(lufs: Floats, target_lufs: float) -> float:
    """Return the drive at which damage is read.

    At the target: none where it is passed undriven, the highest where out of reach.
    """
    wanted = drive_to(lufs, target_lufs)
    return float(np.clip(MOST_DRIVE_DB if wanted is None else wanted, 0.0, MOST_DRIVE_DB))


def _without_sound(song: DrivenSong) -> tuple[Floats, dict[str, float | None]]:
    """Return the loudness at every drive, and the drives at which the readings that need no sound pass their limits."""
    lufs = np.array([song.lufs(drive) for drive in DRIVES_DB])
    quick = np.array([song.pumping_and_hits(drive) for drive in DRIVES_DB])
    return lufs, {
        "pumping": crossing(DRIVES_DB, quick[:, 0], MOST_PUMPING_DB),
        "hits": crossing(DRIVES_DB, quick[:, 1], MOST_HIT_LOSS_DB),
        "density": density_drive(DRIVES_DB, lufs),
    }


def _distortion_stop(noise: dict[float, float]) -> float | None:
    drives = sorted(noise)
    return crossing(np.array(drives), np.array([noise[drive] for drive in drives]), MOST_DISTORTION_DB)


def _outcome(song: DrivenSong, stops: dict[str, float | None], noise: dict[float, float], lufs: Floats) -> Sweep:
    tripped = {name: drive for name, drive in stops.items() if drive is not None}
    name, clean = min(tripped.items(), key=lambda reading: reading[1], default=("none", MOST_DRIVE_DB))
    if clean not in noise:
        noise[clean] = song.distortion_db(clean)
    curve = tuple(song.point(drive, noise[drive]) for drive in sorted(noise))
    clean_lufs = next(point.lufs for point in curve if point.drive_db == clean)
    return Sweep(clean_lufs, clean, name, curve, lufs)


def sweep(song: DrivenSong, target_lufs: float) -> Sweep:
    """Drive the song upwards until the first limit is passed.

    Loudness, pumping and hits are read every 1 dB; distortion, which needs the sound itself, every 2 dB up to 2 dB past the
    clean drive and the target, and once more where it passes its limit. Between readings it is interpolated, since all of
    them grow smoothly.
    """
    lufs, stops = _without_sound(song)
    first = min((drive for drive in stops.values() if drive is not None), default=MOST_DRIVE_DB)
    wanted = drive_to(lufs, target_lufs)
    end = min(max(first, MOST_DRIVE_DB if wanted is None else wanted) + BEYOND_DB, MOST_DRIVE_DB)
    noise = {float(drive): song.distortion_db(float(drive)) for drive in np.arange(0.0, end + POINT_DB / 2, POINT_DB)}
    coarse = _distortion_stop(noise)
    if coarse is not None and coarse <= first:
        noise[coarse] = song.distortion_db(coarse)
        coarse = _distortion_stop(noise)
    return _outcome(song, {"distortion": coarse, **stops}, noise, lufs)


def short_sweep(song: DrivenSong, target_lufs: float) -> Sweep:
    """Find the clean drive with few readings of distortion.

    The same as a sweep finds; the curve holds only what was read.
    Distortion grows with drive, so one reading where the other limits stop the drive settles it when it is below its own; else
    it is followed downwards in steps of 2 dB. The drive that reaches the target is read too, since outcomes take the damage there.
    """
    lufs, stops = _without_sound(song)
    drive = min((drive for drive in stops.values() if drive is not None), default=MOST_DRIVE_DB)
    noise = {drive: song.distortion_db(drive)}
    while noise[drive] > MOST_DISTORTION_DB and drive > 0.0:
        drive = max(drive - POINT_DB, 0.0)
        noise[drive] = song.distortion_db(drive)
    stop = _distortion_stop(noise)
    wanted = drive_at(lufs, target_lufs)
    if wanted not in noise:
        noise[wanted] = song.distortion_db(wanted)
    return _outcome(song, {"distortion": stop, **stops}, noise, lufs)
