"""What tells a fault of tone from a song's shape.

The percussive and the sustained part, judged together.
A filter on the mix bends both parts alike; an instrument stands in one. So the curves of both are held against those of finished songs,
with their joint covariance: what finished songs have in one part only counts little. Below 90 Hz the separation's short windows cannot tell
bands apart, and the mix's own curve is taken.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from features.records.spectrum import Spectrum
from features.sound.bands import neighbours
from features.tone.matched_filter import Filter, precision_of

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

TABLE = "part_covariance_table.json"
LOW_HZ, PARTS_HZ, TOP_HZ = 24.0, 90.0, 16000.0
CURVES = 3  # mix, percussive, sustained
KEPT = 64
SHRINKAGE = 0.5  # towards neighbours alone, and one correlation between curves; chosen by leave-one-out, see docs/target.md
MOST_DB = 25.0  # what was cut away altogether says no more than this
LEAST_SPREAD_DB = 1e-3
TREBLE_HZ = 6000.0
TREBLE_DB = 5.0  # songs end in the treble as they like: how far a fall-off there is taken as given
BLUR_OCTAVES = 2.5  # as far as the separation looks along frequency
PERCUSSIVE_BLUR = 0.45  # of a filter, how much the percussive part shows only blurred; docs/target.md
SUSTAINED_SHARPNESS = 0.25  # and the sustained part shows too sharply


@dataclass(frozen=True, slots=True, eq=False)
class PartCovarianceTable:
    """Statistics of finished songs.

    The mix's bands from 25 to 80 Hz, then from 100 Hz the percussive curve, then the sustained one.

    Attributes
    ----------
    songs
        How many songs.
    band_hz
        Centres of all bands from 25 Hz to 12.5 kHz, shape ``(n,)``.
    median_db, spread_db
        Of what `layout` leaves of three curves over these bands, one after another, shape ``(m,)``.
    correlation
        As measured, shape ``(m, m)``.
    """

    songs: int
    band_hz: Floats
    median_db: Floats
    spread_db: Floats
    correlation: Floats


def part_bands(band_hz: Floats) -> Mask:
    """Tell the bands that are judged together."""
    used: Mask = (band_hz > LOW_HZ) & (band_hz < TOP_HZ * 0.99)
    return used


def layout(band_hz: Floats) -> Mask:
    """Tell which bands of the three curves are judged.

    Mix, percussive and sustained, shape ``(3, bands)``.
    """
    parts = band_hz > PARTS_HZ
    return np.stack([~parts, parts, parts])


def stacked(spectrum: Spectrum) -> Floats | None:
    """Return the curves of mix, strokes and sustained part.

    Shape ``(3, bands)``; None where one was not measured.
    """
    if spectrum.percussive_db is None or spectrum.sustained_db is None:
        return None
    rows: Floats = np.array([spectrum.third_octave_db, spectrum.percussive_db, spectrum.sustained_db], np.float64)
    return rows


def answers(template: Floats, band_hz: Floats) -> Floats:
    """Return what a filter does to the three curves.

    A filter on the mix; shape ``(3, bands)``.
    Separation looks at each band beside its neighbours, so what strikes shows a filter blurred and what sustains shows it sharpened.

    Parameters
    ----------
    template
        What it does to the mix in each band, in dB, shape ``(bands,)``.
    band_hz
        Band centres, shape ``(bands,)``.
    """
    blurred = _blur(tuple(band_hz.tolist())) @ template
    return np.stack(
        [
            template,
            template + PERCUSSIVE_BLUR * (blurred - template),
            template + SUSTAINED_SHARPNESS * (template - blurred),
        ]
    )


def treble_shelf(band_hz: Floats) -> Floats:
    """Return the shape of a treble shelf, in dB.

    Second order, 6 dB at 6 kHz, scaled to a plateau of 1.
    """
    share = 1 / (1 + (TREBLE_HZ / band_hz) ** 4)
    shape: Floats = 10 * np.log10(1 + (10**0.6 - 1) * share) / 6
    return shape


@lru_cache(maxsize=KEPT)
def _blur(band_hz: tuple[float, ...]) -> Floats:
    octave = np.log2(np.array(band_hz))
    beside = np.abs(octave[:, None] - octave[None, :]) <= BLUR_OCTAVES / 2 + 0.01
    blur: Floats = beside / beside.sum(axis=1, keepdims=True)
    return blur


def tabulate_part_covariance(curves_db: Floats, band_hz: Floats, groups: Sequence[str]) -> PartCovarianceTable:
    """Work out the statistics of finished songs.

    Parameters
    ----------
    curves_db
        What `stacked` gives, shape ``(songs, 3, bands)``.
    band_hz
        Band centres, shape ``(bands,)``.
    groups
        For each song the collection it comes from; a collection of n songs weighs as sqrt(n).
    """
    used = part_bands(band_hz)
    rows = curves_db[:, :, used][:, layout(band_hz[used])]
    sizes = np.array([groups.count(group) for group in groups], np.float64)
    weights = sizes**-0.5 / np.sum(sizes**-0.5)
    median = np.median(rows, axis=0)
    deviation = np.clip(rows - median, -MOST_DB, MOST_DB)
    deviation -= np.sum(weights[:, None] * deviation, axis=0)
    covariance = (weights[:, None] * deviation).T @ deviation
    spread = np.maximum(np.sqrt(np.diag(covariance)), LEAST_SPREAD_DB)
    return PartCovarianceTable(len(rows), band_hz[used], median, spread, covariance / np.outer(spread, spread))


def covariance_of_parts(table: PartCovarianceTable) -> Floats:
    """Return the covariance of a further song.

    Correlation shrunk by half, spreads smoothed over three bands.
    It is shrunk towards ``r exp(-distance / 0.4 octaves)``, with ``r`` 1 within a curve and the mean correlation of both parts in the same
    band between them: 50 bands have 1225 correlations, which a few dozen songs cannot tell.
    """
    curve, band = np.nonzero(layout(table.band_hz))
    parts = int(np.count_nonzero(curve == 1))
    between = float(np.mean(np.diag(table.correlation[-2 * parts : -parts, -parts:])))
    expected = neighbours(table.band_hz[band]) * np.where(curve[:, None] == curve[None, :], 1.0, between)
    correlation = (1 - SHRINKAGE) * table.correlation + SHRINKAGE * expected
    spread = np.concatenate([_smooth(table.spread_db[curve == number]) for number in range(CURVES)])
    covariance: Floats = correlation * np.outer(spread, spread)
    return covariance


def _smooth(values: Floats) -> Floats:
    return np.convolve(np.pad(values, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")


def part_filter(table: PartCovarianceTable, mask: Mask) -> Filter:
    """Return the matched filter over some of the bands.

    The level and the slope of the song are free.
    """
    return _part_filter(table, tuple(mask.tolist()))


@lru_cache(maxsize=KEPT)
def _part_filter(table: PartCovarianceTable, bands_kept: tuple[bool, ...]) -> Filter:
    mask = np.array(bands_kept)
    band_hz = table.band_hz[mask]
    judged = layout(band_hz)
    places = np.broadcast_to(mask, (CURVES, len(mask)))[layout(table.band_hz)]
    every = np.broadcast_to(band_hz, judged.shape)[judged]
    treble = treble_shelf(every)
    covariance = covariance_of_parts(table)[np.ix_(places, places)] + TREBLE_DB**2 * np.outer(treble, treble)
    precision = precision_of(covariance, np.stack([np.ones(len(every)), np.log2(every / 1000)], axis=1))
    return Filter(band_hz, precision, lambda template: answers(template, band_hz)[judged])


def part_deviation(curves_db: Floats, table: PartCovarianceTable, mask: Mask) -> Floats:
    """Return how far a song's curves lie off the median.

    The songs' median; shape ``(3, bands kept)``, in the order of the filter.
    """
    inside = np.broadcast_to(mask, (CURVES, len(mask)))[layout(table.band_hz)]
    off_db = curves_db[layout(table.band_hz[mask])] - table.median_db[inside]
    return np.clip(off_db, -MOST_DB, MOST_DB)


def part_covariance_to_json(table: PartCovarianceTable) -> str:
    """Write a table as JSON.

    Of the correlation what lies on and above the diagonal.
    """
    rows = {
        "songs": table.songs,
        "band_hz": table.band_hz.round(4).tolist(),
        "median_db": table.median_db.round(2).tolist(),
        "spread_db": table.spread_db.round(2).tolist(),
    }
    lines = [f" {json.dumps(name)}: {json.dumps(value)}" for name, value in rows.items()]
    upper = ",\n  ".join(json.dumps(row[number:]) for number, row in enumerate(table.correlation.round(2).tolist()))
    return "{\n" + ",\n".join([*lines, f' "correlation": [\n  {upper}\n ]']) + "\n}\n"


def part_covariance_from_json(text: str) -> PartCovarianceTable:
    """Read what `part_covariance_to_json` wrote."""
    rows = json.loads(text)
    size = len(rows["median_db"])
    correlation = np.zeros((size, size))
    for number, row in enumerate(rows["correlation"]):
        correlation[number, number:] = correlation[number:, number] = row
    return PartCovarianceTable(
        rows["songs"], np.array(rows["band_hz"]), np.array(rows["median_db"]), np.array(rows["spread_db"]), correlation
    )


@cache
def general_part_covariance() -> PartCovarianceTable:
    """Return the table of finished songs.

    How it was made: docs/target.md.
    """
    return part_covariance_from_json(resources.files("features.tone").joinpath(TABLE).read_text(encoding="utf-8"))
