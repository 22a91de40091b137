"""The spectrum a song is held against without references.

How finished songs differ from it stands here too.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from features.records.balance import Target
from features.sound.bands import neighbours
from features.sound.measurement import Given, measurement
from features.tone.part_covariance import PartCovarianceTable, general_part_covariance, treble_shelf
from features.tone.spectrum import middle_mean

Floats = NDArray[np.float64]

TABLE = "target_table.json"
FIT_HZ = (250.0, 3200.0)  # where the published curve and finished songs agree within 1.5 dB
BLEND_OCTAVES = 1.0
MODEL_HZ = (49.0, 16000.0)
SHRINKAGE = 0.7  # towards neighbours-only correlation; chosen by leave-one-out, see docs/target.md
TREBLE_DB = 10.0  # songs end in the treble as they like: how far a fall-off there is taken as given
LEAST_SPREAD_HZ = (20.0, 50.0, 63.0, 80.0, 100.0, 160.0, 200.0, 300.0, 3000.0, 5000.0, 10000.0, 16000.0)
LEAST_SPREAD_DB = (10.0, 8.0, 8.0, 6.5, 5.5, 5.0, 4.0, 3.0, 3.0, 5.0, 6.0, 7.0)


@dataclass(frozen=True, slots=True)
class TargetModel(Given):
    """A target with what a matched filter needs.

    Attributes
    ----------
    record
        The target and its spread per band.
    model_hz
        Centres of the bands the covariance is about (50 Hz-16 kHz), shape ``(n,)``.
    covariance
        How finished songs differ from their median there, level taken out, shrunk, in dB squared, shape ``(n, n)``.
    centre_db
        That median, which the matched filter starts from, shape ``(n,)``; ``None``: the target itself. The published curve
        lies up to 1.6 dB under finished songs near 200 Hz, much like a bell, and must not be found as one.
    part_covariance
        What finished songs do in their percussive and sustained parts; ``None``: the mix's curve alone is judged.
    """

    record: Target
    model_hz: Floats
    covariance: Floats
    centre_db: Floats | None = None
    part_covariance: PartCovarianceTable | None = None


@measurement
def target_record(model: TargetModel) -> Target:
    """Return the target that a song's spectrum is judged against."""
    return model.record


@dataclass(frozen=True, slots=True)
class SongTable:
    """Statistics of finished songs.

    Per band median and robust spread, tilt, and the raw correlation between bands.
    """

    songs: int
    band_hz: Floats
    median_db: Floats
    spread_db: Floats
    tilt_db_per_octave: float
    tilt_spread_db_per_octave: float
    correlation: Floats


def published_fit(frequency_hz: Floats) -> Floats:
    """Return the mean spectrum of 12345 popular songs.

    Power per Hz in dB, up to a constant.
    Elowsson and Friberg 2017 (AES 142, paper 9762), eq. 6: ``-0.000183 x^2 + 0.0213 x``, ``x = 1 + 60 log2(f / 30)``;
    as quoted, the paper itself was not at hand. Not meant for use below about 100 Hz.

    Examples
    --------
    >>> fit = published_fit(np.array([1000.0, 4000.0]))
    >>> float((fit[1] - fit[0]).round(1))
    -13.5
    """
    x = 1 + 60 * np.log2(frequency_hz / 30)
    return -0.000183 * x**2 + 0.0213 * x


def weighted_quantile(values: Floats, weights: Floats, quantile: float) -> float:
    """Return the quantile of weighted values.

    Linear between the midpoints of their weights.

    Examples
    --------
    >>> weighted_quantile(np.array([3.0, 1.0, 2.0]), np.ones(3), 0.5)
    2.0
    """
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order]) - weights[order] / 2
    return float(np.interp(quantile, reached / np.sum(weights), values[order]))


def robust_spread(values: Floats, weights: Floats) -> float:
    """Return the robust spread of weighted values.

    1.4826 times the weighted median distance from the weighted median: a normal sample's standard deviation.
    """
    middle = weighted_quantile(values, weights, 0.5)
    return 1.4826 * weighted_quantile(np.abs(values - middle), weights, 0.5)


def tabulate(curves_db: Floats, tilts: Floats, band_hz: Floats, groups: Sequence[str]) -> SongTable:
    """Work out the statistics of finished songs.

    Parameters
    ----------
    curves_db
        Third-octave curves relative to their mean over 200 Hz-5 kHz, shape ``(songs, bands)``.
    tilts
        Their slopes in dB per octave, shape ``(songs,)``.
    band_hz
        Band centres, shape ``(bands,)``.
    groups
        For each song the collection it comes from. A collection of n songs weighs as sqrt(n): songs of one maker
        resemble each other, but a collection of three must not speak as loudly as one of seventeen.
    """
    sizes = np.array([groups.count(group) for group in groups], np.float64)
    weights = sizes**-0.5 / np.sum(sizes**-0.5)
    median = np.array([weighted_quantile(column, weights, 0.5) for column in curves_db.T])
    spread = np.array([robust_spread(column, weights) for column in curves_db.T])
    smooth = np.convolve(np.pad(spread, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")
    used = model_bands(band_hz)
    deviation = (curves_db - np.sum(weights[:, None] * curves_db, axis=0))[:, used]
    covariance = (weights[:, None] * deviation).T @ deviation
    scale = np.sqrt(np.diag(covariance))
    return SongTable(
        songs=len(tilts),
        band_hz=band_hz,
        median_db=median,
        spread_db=smooth,
        tilt_db_per_octave=weighted_quantile(tilts, weights, 0.5),
        tilt_spread_db_per_octave=robust_spread(tilts, weights),
        correlation=covariance / np.outer(scale, scale),
    )


def model_bands(band_hz: Floats) -> NDArray[np.bool_]:
    """Tell the bands that the covariance is about."""
    used: NDArray[np.bool_] = (band_hz > MODEL_HZ[0]) & (band_hz < MODEL_HZ[1])
    return used


def prior(table: SongTable, label: str, part_covariance: PartCovarianceTable | None = None) -> TargetModel:
    """Make a target from a table.

    The published curve in the middle, what finished songs do towards both ends.
    The covariance is the measured correlation, shrunk by 0.7 towards ``exp(-distance / 0.4 octaves)``, times the spreads,
    plus a treble fall-off of any size (10 dB standard deviation, above 6 kHz), so that a dull or bright top is not read as
    a hollow or rise below it.
    """
    curve = _blend(table)
    spread = np.maximum(table.spread_db, np.interp(np.log2(table.band_hz), np.log2(LEAST_SPREAD_HZ), LEAST_SPREAD_DB))
    used = model_bands(table.band_hz)
    correlation = (1 - SHRINKAGE) * table.correlation + SHRINKAGE * neighbours(table.band_hz[used])
    treble = treble_shelf(table.band_hz[used])
    covariance = correlation * np.outer(spread[used], spread[used]) + TREBLE_DB**2 * np.outer(treble, treble)
    record = Target(
        label=label,
        songs=0,
        third_octave_hz=tuple(float(value) for value in table.band_hz),
        third_octave_db=tuple(float(value) for value in curve),
        spread_db=tuple(float(value) for value in spread),
        tilt_db_per_octave=table.tilt_db_per_octave,
        tilt_spread_db_per_octave=table.tilt_spread_db_per_octave,
    )
    return TargetModel(record, table.band_hz[used], covariance, table.median_db[used], part_covariance)


def _blend(table: SongTable) -> Floats:
    """Return the published curve inside 250 Hz-3.2 kHz, the measured median an octave outside, a straight mixture between."""
    octaves_outside = np.maximum(np.log2(FIT_HZ[0] / table.band_hz), np.log2(table.band_hz / FIT_HZ[1]))
    share = np.clip(1 - octaves_outside / BLEND_OCTAVES, 0, 1)
    inside = (table.band_hz > FIT_HZ[0] * 0.99) & (table.band_hz < FIT_HZ[1] * 1.01)
    fit = published_fit(table.band_hz)
    fit += np.mean(table.median_db[inside]) - np.mean(fit[inside])
    curve = share * fit + (1 - share) * table.median_db
    centred: Floats = curve - middle_mean(curve, table.band_hz)
    return centred


def table_to_json(table: SongTable) -> str:
    """Write a table as JSON.

    Rounded to what its precision deserves; one row a line.
    """
    rows = {
        "songs": table.songs,
        "band_hz": table.band_hz.round(4).tolist(),
        "median_db": table.median_db.round(2).tolist(),
        "spread_db": table.spread_db.round(2).tolist(),
        "tilt_db_per_octave": round(table.tilt_db_per_octave, 3),
        "tilt_spread_db_per_octave": round(table.tilt_spread_db_per_octave, 3),
    }
    lines = [f" {json.dumps(name)}: {json.dumps(value)}" for name, value in rows.items()]
    correlation = ",\n  ".join(json.dumps(row) for row in table.correlation.round(3).tolist())
    return "{\n" + ",\n".join([*lines, f' "correlation": [\n  {correlation}\n ]']) + "\n}\n"


def table_from_json(text: str) -> SongTable:
    """Read what `table_to_json` wrote."""
    rows = json.loads(text)
    return SongTable(
        songs=rows["songs"],
        band_hz=np.array(rows["band_hz"]),
        median_db=np.array(rows["median_db"]),
        spread_db=np.array(rows["spread_db"]),
        tilt_db_per_octave=rows["tilt_db_per_octave"],
        tilt_spread_db_per_octave=rows["tilt_spread_db_per_octave"],
        correlation=np.array(rows["correlation"]),
    )


@cache
def general_target() -> TargetModel:
    """Return the target used when the user gives no references.

    How it was made: docs/target.md.
    """
    table = table_from_json(resources.files("features.tone").joinpath(TABLE).read_text(encoding="utf-8"))
    return prior(table, "songs in general", general_part_covariance())
