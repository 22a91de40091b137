"""The spectrum that the user's references stand for.

Their median, and how they differ, moderated.

Of the same form as the general target (`features.tone.target`), so that the same matched filter serves both. What a handful of songs cannot
say about spread and correlation is taken from how songs of one kind differ (`features.comparison.song_kind`): for spread with the weight of
eight songs, for correlation of twenty. Whether the shelf as a whole is a narrow or a wide one is read off all bands together.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from features.comparison.moderated_statistics import median_of, robust_moderated_spread, robust_variance
from features.comparison.song_kind import KindTable, kinds
from features.records.balance import Target, Usual
from features.tone.spectrum import middle_mean
from features.tone.target import Floats, TargetModel, general_target

CORRELATION_SONGS = 20  # 29 bands have 406 correlations: a few songs say little about them
SCALE_SONGS = 8  # what the usual width of a kind counts as
SCALE_BANDS = 4  # bands that differ independently: each song says so much about the width of its shelf


def song_target(
    curves_db: Sequence[Sequence[float]],
    tops_hz: Sequence[float | None],
    tilts: Sequence[float],
    label: str,
    usual: tuple[Usual, ...] = (),
) -> TargetModel:
    """Make a target from one or more reference songs.

    Parameters
    ----------
    curves_db
        Their third-octave curves from 20 Hz up, as in `Spectrum`; a lower sampling rate gives a shorter one.
    tops_hz
        For each the frequency at which its spectrum ends at a wall, or None: bands that reach over it are no choice of tone.
    tilts
        Their slopes in dB per octave; songs without one are left out.
    label
        What the report calls them.
    usual
        What they have in other readings, for rules that ask.

    Notes
    -----
    A band's spread is that of a further song of their kind: ``s sqrt(1 + 1/n)``, ``s`` a robust spread moderated with that of songs of one
    kind, which is first scaled to the shelf (as the prior variance is fitted to the data by Smyth 2004). The covariance has those
    spreads, and a correlation ``((n - 1) R + 20 R0) / (n + 19)`` of theirs and that of songs of one kind.
    """
    general, kind = general_target().record, kinds()
    band_hz = np.array(general.third_octave_hz)
    curves = _aligned(curves_db, tops_hz, band_hz)
    middle = _middle(curves, np.array(general.third_octave_db))
    middle = middle - middle_mean(middle, band_hz)
    scale = _scale(curves, kind)
    spread = np.array([_further(_known(column), scale * prior) for column, prior in zip(curves.T, kind.spread_db, strict=True)])
    record = Target(
        label=label,
        songs=len(curves),
        third_octave_hz=general.third_octave_hz,
        third_octave_db=tuple(float(value) for value in middle),
        spread_db=tuple(float(value) for value in spread),
        tilt_db_per_octave=median_of(tilts) if tilts else general.tilt_db_per_octave,
        tilt_spread_db_per_octave=_further(tilts, scale * kind.tilt_spread_db_per_octave),
        usual=usual,
    )
    used = kind.used()
    correlation = _mixed_correlation(curves[:, used], kind.prior_correlation())
    return TargetModel(record, band_hz[used], correlation * np.outer(spread[used], spread[used]))


def _aligned(curves_db: Sequence[Sequence[float]], tops_hz: Sequence[float | None], band_hz: Floats) -> Floats:
    """Return the curves with what lies above a song's own top as NaN, shape ``(songs, bands)``."""
    rows = np.full((len(curves_db), len(band_hz)), np.nan)
    for row, curve, top_hz in zip(rows, curves_db, tops_hz, strict=True):
        count = min(len(curve), len(band_hz))
        row[:count] = curve[:count]
        if top_hz is not None:
            row[band_hz * 10**0.05 > top_hz] = np.nan
    return rows


def _known(column: Floats) -> list[float]:
    return [float(value) for value in column if not np.isnan(value)]


def _further(values: Sequence[float], prior_spread: float) -> float:
    """Return the spread of a further song around the median of these."""
    return robust_moderated_spread(values, prior_spread) * float(np.sqrt(1 + 1 / max(len(values), 1)))


def _scale(curves: Floats, kind: KindTable) -> float:
    """Return how wide a shelf is against the usual one: 1 for one song, then more and more what all its bands together show."""
    columns = [(_known(column), spread) for column, spread in zip(curves[:, kind.used()].T, kind.spread_db[kind.used()], strict=True)]
    shares = [robust_variance(values) / spread**2 for values, spread in columns if len(values) > 1]
    weight = SCALE_BANDS * (len(curves) - 1)
    own = float(np.mean(shares)) if shares else 1.0
    return float(np.sqrt((SCALE_SONGS + weight * own) / (SCALE_SONGS + weight)))


def _middle(curves: Floats, general_db: Floats) -> Floats:
    """Return the median of each band; where no song reaches, the general curve goes on from the highest band that has one."""
    known = ~np.isnan(curves).all(axis=0)
    middle = np.array(general_db)
    middle[known] = [median_of(_known(column)) for column in curves.T[known]]
    if known.any() and not known.all():
        last = int(np.flatnonzero(known)[-1])
        middle[last + 1 :] += middle[last] - general_db[last]
    return middle


def _mixed_correlation(curves: Floats, prior: Floats) -> Floats:
    free = len(curves) - 1
    mixed: Floats = (free * _correlation(curves, prior) + CORRELATION_SONGS * prior) / (free + CORRELATION_SONGS)
    return mixed


def _correlation(curves: Floats, prior: Floats) -> Floats:
    """Return the songs' correlation between bands; the prior's where a band is missing in a song or does not move."""
    if len(curves) < 3:
        return prior
    deviation = curves - curves.mean(axis=0)  # NaN in a band that any song lacks
    scale = np.sqrt(np.mean(deviation**2, axis=0))
    sound: NDArray[np.bool_] = np.isfinite(scale) & (scale > 1e-6)
    correlation = np.array(prior)
    inside = np.ix_(sound, sound)
    part = deviation[:, sound]
    correlation[inside] = part.T @ part / len(part) / np.outer(scale[sound], scale[sound])
    return correlation
