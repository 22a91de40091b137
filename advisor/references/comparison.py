"""A mix held against reference songs: reading by reading, as a curve, and as a whole; numbers only, the words are the report's."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.references.records import Reference, Song
from features.comparison.moderated_statistics import Standing, distance, level_of, median_of, more_unusual_than, standing
from features.comparison.prior_spread import priors
from features.records.balance import Usual
from features.records.headline import FEATURES, Feature, Headline
from features.records.outlook import DrivePoint, Outlook
from features.song.headline import limited_crest_balance
from features.sound.signal import Signal, Source

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
class Pair:
    """One reference song beside the mix: differences (mix minus song) per reading, None where one of them lacks it."""

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
    pairs: tuple[Pair, ...]  # nearest first
    more_unusual_than: int | None
    compared_at_lufs: float | None  # where the mix's limiter was read; None when it had not to work
    loudness_lufs: float  # median of the songs


@dataclass(frozen=True, slots=True)
class Limiting:
    """The mix behind its own outlook limiter, at whatever loudness a reference has.

    PSR and what hits lose are read from the outlook's curve; the balance of crests, measured at ``most_drive_db``, in proportion below.
    """

    headline: Headline
    curve: tuple[DrivePoint, ...]
    most_drive_db: float
    crest_balance_db: float | None

    def at(self, lufs: float) -> Headline:
        """Return the readings when the mix is driven to a loudness; as they are when it is there already."""
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
    """Prepare for comparing at up to ``lufs``; ``peak`` is the song's true peak, linear."""
    drive_db = drive_to(outlook.curve, lufs)
    if drive_db <= 0.0:
        return Limiting(headline, outlook.curve, 0.0, None)
    crest_db = limited_crest_balance(_excerpt(source, outlook), peak * 10 ** (-drive_db / 20))
    return Limiting(headline, outlook.curve, drive_db, crest_db)


def _excerpt(source: Source, outlook: Outlook) -> Signal:
    """Read the stretch on which the outlook was read."""
    first = round(outlook.excerpt.start_s * source.rate_hz)
    return Signal(source.read(first, round(outlook.excerpt.end_s * source.rate_hz) - first), source.rate_hz)


def _moved(value: float | None, by: float) -> float | None:
    return None if value is None else value + by


def drive_to(curve: Sequence[DrivePoint], lufs: float) -> float:
    """Return the drive that reaches a loudness, the highest one measured when it is out of reach; 0 when none is needed."""
    if not curve:
        return 0.0
    loudness = np.maximum.accumulate([point.lufs for point in curve])
    return float(np.interp(lufs, loudness, [point.drive_db for point in curve])) if lufs > loudness[0] else 0.0


def _at(curve: Sequence[DrivePoint], name: str, drive_db: float) -> float:
    return float(np.interp(drive_db, [point.drive_db for point in curve], [getattr(point, name) for point in curve]))


def loudness_at(song: Song, ceiling_dbtp: float, target_lufs: float) -> float:
    """Return the loudness at which a mix is compared with a song: the song's own with its peak at the ceiling, at most the target."""
    return min(song.integrated_lufs + ceiling_dbtp - song.true_peak_dbtp, target_lufs)


def vector(headline: Headline) -> list[float | None]:
    """Return the readings in the order of `FEATURES`."""
    return [getattr(headline, each.name) for each in FEATURES]


def prior_spreads() -> list[float]:
    """Return the prior spreads in the order of `FEATURES`."""
    return [priors()[each.name].spread for each in FEATURES]


def usual_of(songs: Sequence[Reference]) -> tuple[Usual, ...]:
    """Return what the songs have in each reading, with the spread of a further song of their kind."""
    found = []
    for each in FEATURES:
        values = [value for one in songs if (value := getattr(one.song.headline, each.name)) is not None]
        if values:
            told = standing(values[0], values, priors()[each.name].spread)
            found.append(Usual(each.name, told.median, told.spread * (1 + 1 / len(values)) ** 0.5, len(values)))
    return tuple(found)


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
    levels = [loudness_at(one.song, asked.ceiling_dbtp, asked.target_lufs) for one in songs]
    pairs = [pair(mix.at(lufs), curve_db, top_hz, one) for one, lufs in zip(songs, levels, strict=True)]
    same = any(each.same for each in pairs)
    lufs = median_of(levels)
    limited = mix.at(lufs)
    unusual = None
    if len(songs) >= RANKS_FROM:
        others = [vector(one.song.headline) for one in songs]
        unusual = 0 if same else more_unusual_than(vector(limited), others, prior_spreads())
    return Comparison(
        rows=_rows(mix.headline, limited, songs, same=same),
        pairs=tuple(sorted(pairs, key=lambda each: (each.distance, each.reference.sha256))),
        more_unusual_than=unusual,
        compared_at_lufs=lufs if drive_to(mix.curve, lufs) > 0.0 else None,
        loudness_lufs=median_of([one.song.integrated_lufs for one in songs]),
    )


def _rows(headline: Headline, limited: Headline, songs: Sequence[Reference], *, same: bool) -> tuple[Row, ...]:
    found: list[tuple[Feature, float, float, Standing]] = []
    for each in FEATURES:
        raw, value = getattr(headline, each.name), getattr(limited, each.name)
        theirs = [other for one in songs if (other := getattr(one.song.headline, each.name)) is not None]
        if value is not None and theirs:
            found.append((each, value, raw, standing(value, theirs, priors()[each.name].spread)))
    return tuple(Row(each, value, raw, told, "like" if same else _level(each, told, len(found))) for each, value, raw, told in found)


def _level(feature: Feature, told: Standing, readings: int) -> str:
    if told.songs < RANKS_FROM:
        return ""
    return "like" if abs(told.difference) < feature.step else level_of(told, readings)


def pair(mix: Headline, curve_db: Sequence[float], top_hz: float | None, reference: Reference) -> Pair:
    """Hold a mix against one song."""
    song = reference.song
    ours, theirs = vector(mix), vector(song.headline)
    differences = tuple(None if a is None or b is None else a - b for a, b in zip(ours, theirs, strict=True))
    curve = _curve_difference(curve_db, top_hz, reference)
    far = distance(ours, theirs, prior_spreads())
    shape = float(np.sqrt(np.mean(np.square(curve)))) / CURVE_SCALE_DB if curve else 0.0
    same = (
        all(each is None or abs(each) < one.step for each, one in zip(differences, FEATURES, strict=True))
        and all((a is None) == (b is None) for a, b in zip(ours, theirs, strict=True))
        and all(abs(each) < CURVE_STEP_DB for each in curve)
    )
    return Pair(reference, differences, (far**2 + shape**2) ** 0.5, curve, same)


def _curve_difference(curve_db: Sequence[float], top_hz: float | None, reference: Reference) -> tuple[float, ...]:
    """Return mix minus song from 50 Hz up to where the first of them ends."""
    song = reference.song
    walls_hz = [each for each in (top_hz, song.bandwidth_hz) if each is not None]
    top = min(walls_hz, default=float("inf"))
    rows = zip(song.third_octave_hz, curve_db, song.third_octave_db, strict=False)
    return tuple(a - b for hz, a, b in rows if CURVE_HZ[0] < hz < CURVE_HZ[1] and hz * 10**0.05 <= top)
