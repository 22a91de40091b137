"""The spectrum a song is held against when the user gives references: their median, and how they differ, moderated.

Built like the general target (`features.target`), so that the same matched filter serves both: what a handful of songs cannot say
about spread and correlation is taken from songs in general, with the weight of eight songs for spread and of twenty for correlation.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from features.few_songs import PRIOR_SONGS, median_of, moderated_spread
from features.measurements import Target, Usual
from features.spectrum import middle_mean
from features.target import TREBLE_DB, Floats, TargetModel, general_target, model_bands, treble_shelf

CORRELATION_SONGS = 20  # 26 bands have 325 correlations: a few songs say little about them


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
    A band's spread is that of a further song of their kind: ``s sqrt(1 + 1/n)``, ``s`` moderated with the general spread. The
    covariance has those spreads, a correlation ``((n - 1) R + 20 R0) / (n + 19)`` of theirs and the general one, and the general
    allowance for a treble that falls off, in the measure in which the prior still counts.
    """
    general = general_target()
    band_hz = np.array(general.record.third_octave_hz)
    curves = _aligned(curves_db, tops_hz, band_hz)
    middle = _middle(curves, np.array(general.record.third_octave_db))
    middle = middle - middle_mean(middle, band_hz)
    spread = np.array(
        [
            _further(moderated_spread(_known(column), prior), _known(column))
            for column, prior in zip(curves.T, general.record.spread_db, strict=True)
        ]
    )
    slopes = list(tilts) or [general.record.tilt_db_per_octave]
    record = Target(
        label=label,
        songs=len(curves),
        third_octave_hz=general.record.third_octave_hz,
        third_octave_db=tuple(float(value) for value in middle),
        spread_db=tuple(float(value) for value in spread),
        tilt_db_per_octave=median_of(slopes),
        tilt_spread_db_per_octave=_further(moderated_spread(slopes, general.record.tilt_spread_db_per_octave), slopes),
        usual=usual,
    )
    used = model_bands(band_hz)
    return TargetModel(record, general.model_hz, _covariance(curves[:, used], spread[used], general))


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


def _further(spread: float, values: Sequence[float]) -> float:
    """Return the spread of a further song around the median of these."""
    return spread * float(np.sqrt(1 + 1 / len(values))) if values else spread * float(np.sqrt(2))


def _middle(curves: Floats, general_db: Floats) -> Floats:
    """Return the median of each band; where no song reaches, the general curve goes on from the highest band that has one."""
    known = ~np.isnan(curves).all(axis=0)
    middle = np.array(general_db)
    middle[known] = [median_of(_known(column)) for column in curves.T[known]]
    if known.any() and not known.all():
        last = int(np.flatnonzero(known)[-1])
        middle[last + 1 :] += middle[last] - general_db[last]
    return middle


def _covariance(curves: Floats, spread: Floats, general: TargetModel) -> Floats:
    treble = TREBLE_DB**2 * np.outer(shape := treble_shelf(general.model_hz), shape)
    used = np.array(general.record.spread_db)[model_bands(np.array(general.record.third_octave_hz))]
    prior = (general.covariance - treble) / np.outer(used, used)
    free = len(curves) - 1
    correlation = (free * _correlation(curves, prior) + CORRELATION_SONGS * prior) / (free + CORRELATION_SONGS)
    doubt = PRIOR_SONGS / (PRIOR_SONGS + free)
    covariance: Floats = correlation * np.outer(spread, spread) + doubt * treble
    return covariance


def _correlation(curves: Floats, prior: Floats) -> Floats:
    """Return the songs' correlation between bands; the prior's where a band is missing in a song or does not move."""
    if len(curves) < 3:
        return prior
    deviation = curves - curves.mean(axis=0)  # NaN in a band that any song lacks
    scale = np.sqrt(np.mean(deviation**2, axis=0))
    sound: NDArray[np.bool_] = np.isfinite(scale) & (scale > 1e-6)
    found = np.array(prior)
    inside = np.ix_(sound, sound)
    part = deviation[:, sound]
    found[inside] = part.T @ part / len(part) / np.outer(scale[sound], scale[sound])
    return found
