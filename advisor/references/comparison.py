"""A mix held against reference songs.

Reading by reading, as a curve, and as a whole; numbers only, the words are the report's.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.references.records import Reference, Song
from advisor.sources.excerpt import read_span
from features.comparison.moderated_statistics import Standing, distance, level_of, median_of, more_unusual_than, standing
from features.comparison.prior_spread import priors
from features.records.balance import Usual
from features.records.headline import FEATURES, Feature, Headline
from features.records.outlook import DrivePoint, Outlook
from features.song.headline import limited_crest_balance
from features.sound.signal import Source

RANKS_FROM = 5  # songs; with fewer, differences are told and nothing is called unusual
NEAREST = 2
CURVE_SCALE_DB = 6.0  # a difference of this size in every third octave counts as much as one prior spread in every reading
CURVE_HZ = (49.0, 16000.0)
CURVE_STEP_DB = 1.0


@dataclass(frozen=True, slots=True)
class Asked:
    """What the master is to be: loudness and ceiling."""

    target_lufs: float
    ceiling_dbtp: float


@dataclass(frozen=True, slots=True)
class SongComparison:
    """One reference song beside the mix.

    Differences (mix minus song) per reading, None where one of them lacks it.
    """

    reference: Reference
    differences: tuple[float | None, ...]
    distance: float
    curve_db: tuple[float, ...]  # mix minus song per third octave, both relative to 200 Hz-5 kHz, as far as both reach
    same: bool  # no difference reaches its reporting step


@dataclass(frozen=True, slots=True)
class Row:
    """One headline reading of the mix against the songs'."""

    feature: Feature
    mix: float  # as compared
    raw: float  # as it is in the mix
    standing: Standing
    level: str  # "like", "little", "noticeable", "outside", or "" below five songs


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything a report says about the references, in numbers."""

    rows: tuple[Row, ...]
    pairs: tuple[SongComparison, ...]  # nearest first
    more_unusual_than: int | None
    compared_at_lufs: float | None  # where the mix's limiter was read; None when it had not to work
    loudness_lufs: float  # median of the songs


@dataclass(frozen=True, slots=True)
class Limiting:
    """The mix limited to whatever loudness a reference has.

    PSR and what hits lose are read from the outlook's curve; the balance of crests, measured at ``most_drive_db``, in proportion below.
    """

    headline: Headline
    curve: tuple[DrivePoint, ...]
    most_drive_db: float
    crest_balance_db: float | None

    def at(self, lufs: float) -> Headline:
        """Return the readings with the mix driven to a loudness.

        As they are when it is there already.
        """
        drive_db = min(drive_to(self.curve, lufs), self.most_drive_db)
        if drive_db <= 0.0:
            return self.headline
        crest_db, share = self.headline.crest_balance_db, drive_db / self.most_drive_db
        if crest_db is not None and self.crest_balance_db is not None:
            crest_db += share * (self.crest_balance_db - crest_db)
        return replace(
            self.headline,
            psr_db=_moved(self.headline.psr_db, _at(self.curve, "psr_db", drive_db) - _at(self.curve, "psr_db", 0.0)),
            hit_lift_db=_moved(self.headline.hit_lift_db, -_at(self.curve, "hit_loss_db", drive_db)),
            crest_balance_db=crest_db,
        )


def limiting(headline: Headline, outlook: Outlook, source: Source, peak: float, lufs: float) -> Limiting:
    """Prepare for comparing at up to ``lufs``.

    ``peak`` is the song's true peak, linear.
    """
    drive_db = drive_to(outlook.curve, lufs)
    if drive_db <= 0.0:
        return Limiting(headline, outlook.curve, 0.0, None)
    crest_db = limited_crest_balance(read_span(source, outlook.excerpt), peak * 10 ** (-drive_db / 20))
    return Limiting(headline, outlook.curve, drive_db, crest_db)


def _moved(value: float | None, by: float) -> float | None:
    return None if value is None else value + by


def drive_to(curve: Sequence[DrivePoint], lufs: float) -> float:
    """Return the drive that reaches a loudness.

    The highest one measured when it is out of reach, 0 when none is needed.
    """
    if not curve:
        return 0.0
    loudness = np.maximum.accumulate([point.lufs for point in curve])
    return float(np.interp(lufs, loudness, [point.drive_db for point in curve])) if lufs > loudness[0] else 0.0


def _at(curve: Sequence[DrivePoint], name: str, drive_db: float) -> float:
    return float(np.interp(drive_db, [point.drive_db for point in curve], [getattr(point, name) for point in curve]))


def loudness_at(song: Song, ceiling_dbtp: float, target_lufs: float) -> float:
    """Return the loudness for comparing a mix with a song.

    It is the song's own with its peak at the ceiling, at most the target.
    """
    return min(song.integrated_lufs + ceiling_dbtp - song.true_peak_dbtp, target_lufs)


def vector(headline: Headline) -> list[float | None]:
    """Return the readings in the order of `FEATURES`."""
    return [getattr(headline, feature.name) for feature in FEATURES]


def prior_spreads() -> list[float]:
    """Return the prior spreads in the order of `FEATURES`."""
    return [priors()[feature.name].spread for feature in FEATURES]


def usual_of(songs: Sequence[Reference]) -> tuple[Usual, ...]:
    """Return what the songs have in each reading.

    The spread is that of a further song of their kind.
    """
    usual = []
    for feature in FEATURES:
        values = [value for reference in songs if (value := getattr(reference.song.headline, feature.name)) is not None]
        if values:
            position = standing(values[0], values, priors()[feature.name].spread)
            usual.append(Usual(feature.name, position.median, position.spread * (1 + 1 / len(values)) ** 0.5, len(values)))
    return tuple(usual)


def compare(mix: Limiting, curve_db: Sequence[float], top_hz: float | None, songs: Sequence[Reference], asked: Asked) -> Comparison:
    """Hold a mix against one or more songs.

    Parameters
    ----------
    mix
        Its readings, as they are and behind its limiter.
    curve_db, top_hz
        Its third-octave curve, and where its spectrum ends at a wall.
    songs
        The references.
    asked
        Target and ceiling.
    """
    levels = [loudness_at(reference.song, asked.ceiling_dbtp, asked.target_lufs) for reference in songs]
    pairs = [compare_with_song(mix.at(lufs), curve_db, top_hz, reference) for reference, lufs in zip(songs, levels, strict=True)]
    same = any(pair.same for pair in pairs)
    lufs = median_of(levels)
    limited = mix.at(lufs)
    unusual = None
    if len(songs) >= RANKS_FROM:
        others = [vector(reference.song.headline) for reference in songs]
        unusual = 0 if same else more_unusual_than(vector(limited), others, prior_spreads())
    return Comparison(
        rows=_rows(mix.headline, limited, songs, same=same),
        pairs=tuple(sorted(pairs, key=lambda pair: (pair.distance, pair.reference.sha256))),
        more_unusual_than=unusual,
        compared_at_lufs=lufs if drive_to(mix.curve, lufs) > 0.0 else None,
        loudness_lufs=median_of([reference.song.integrated_lufs for reference in songs]),
    )


def _rows(headline: Headline, limited: Headline, songs: Sequence[Reference], *, same: bool) -> tuple[Row, ...]:
    rows: list[tuple[Feature, float, float, Standing]] = []
    for feature in FEATURES:
        raw, value = getattr(headline, feature.name), getattr(limited, feature.name)
        theirs = [other for reference in songs if (other := getattr(reference.song.headline, feature.name)) is not None]
        if value is not None and theirs:
            rows.append((feature, value, raw, standing(value, theirs, priors()[feature.name].spread)))
    return tuple(
        Row(feature, value, raw, position, "like" if same else _level(feature, position, len(rows)))
        for feature, value, raw, position in rows
    )


def _level(feature: Feature, position: Standing, readings: int) -> str:
    if position.songs < RANKS_FROM:
        return ""
    return "like" if abs(position.difference) < feature.step else level_of(position, readings)


def compare_with_song(mix: Headline, curve_db: Sequence[float], top_hz: float | None, reference: Reference) -> SongComparison:
    """Hold a mix against one song."""
    song = reference.song
    ours, theirs = vector(mix), vector(song.headline)
    differences = tuple(None if a is None or b is None else a - b for a, b in zip(ours, theirs, strict=True))
    curve = _curve_difference(curve_db, top_hz, reference)
    far = distance(ours, theirs, prior_spreads())
    shape = float(np.sqrt(np.mean(np.square(curve)))) / CURVE_SCALE_DB if curve else 0.0
    same = (
        all(difference is None or abs(difference) < feature.step for difference, feature in zip(differences, FEATURES, strict=True))
        and all((a is None) == (b is None) for a, b in zip(ours, theirs, strict=True))
        and all(abs(difference_db) < CURVE_STEP_DB for difference_db in curve)
    )
    return SongComparison(reference, differences, (far**2 + shape**2) ** 0.5, curve, same)


def _curve_difference(curve_db: Sequence[float], top_hz: float | None, reference: Reference) -> tuple[float, ...]:
    """Return mix minus song per third octave, from 50 Hz.

    It ends where the first of both ends.
    """
    song = reference.song
    walls_hz = [wall_hz for wall_hz in (top_hz, song.bandwidth_hz) if wall_hz is not None]
    top = min(walls_hz, default=float("inf"))
    rows = zip(song.third_octave_hz, curve_db, song.third_octave_db, strict=False)
    return tuple(a - b for hz, a, b in rows if CURVE_HZ[0] < hz < CURVE_HZ[1] and hz * 10**0.05 <= top)
