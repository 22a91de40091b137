"""How songs of one kind differ from their middle.

What a handful of references cannot say of themselves.

Songs in general differ for two reasons: kinds differ from each other, and songs within a kind. References are of one kind, so only the
second is their affair: towards both ends of the spectrum it is a good deal less than the whole (docs/references.md).
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from features.sound.bands import neighbours
from features.tone.target import SHRINKAGE, Floats

TABLE = "song_kind_table.json"
FEWEST_SONGS = 4  # of a collection: the middle of fewer is a guess
ODD = 1.5  # a song this many times as far from the middle as the median song counts as if it were that far
MODEL_HZ = (24.0, 16000.0)


@dataclass(frozen=True, slots=True)
class KindTable:
    """Statistics of songs against the median of their own collection.

    Attributes
    ----------
    songs, collections
        How many were measured.
    band_hz
        Third-octave centres, shape ``(bands,)``.
    spread_db
        Standard deviation per band, smoothed over three bands, shape ``(bands,)``.
    tilt_spread_db_per_octave
        That of the slope.
    correlation
        Between bands, raw, shape ``(bands, bands)``.
    """

    songs: int
    collections: int
    band_hz: Floats
    spread_db: Floats
    tilt_spread_db_per_octave: float
    correlation: Floats

    def used(self) -> NDArray[np.bool_]:
        """Tell the bands in which bells are looked for.

        25 Hz to 12.5 kHz.
        """
        inside: NDArray[np.bool_] = (self.band_hz > MODEL_HZ[0]) & (self.band_hz < MODEL_HZ[1] * 0.99)
        return inside

    def prior_correlation(self) -> Floats:
        """Return the correlation between the used bands.

        Shrunk towards one of neighbours only, as in the general target.
        """
        used = self.used()
        mixed: Floats = (1 - SHRINKAGE) * self.correlation[np.ix_(used, used)] + SHRINKAGE * neighbours(self.band_hz[used])
        return mixed


def tabulate_kinds(curves_db: Floats, tilts: Floats, band_hz: Floats, groups: Sequence[str]) -> KindTable:
    """Tabulate how songs differ from their collection's median.

    Parameters
    ----------
    curves_db
        Third-octave curves relative to their mean over 200 Hz-5 kHz, shape ``(songs, bands)``.
    tilts
        Their slopes in dB per octave, shape ``(songs,)``.
    band_hz
        Band centres, shape ``(bands,)``.
    groups
        For each song the collection it comes from; those of fewer than four songs are left out.

    Notes
    -----
    Every collection holds a song or two unlike the rest: such a song is drawn in until it lies at most 1.5 times as far out as the
    median song, and says in which bands, no longer how far.
    """
    rows: list[Floats] = []
    sizes = {group: groups.count(group) for group in dict.fromkeys(groups)}
    large_enough = [group for group, count in sizes.items() if count >= FEWEST_SONGS]
    for group in large_enough:
        chosen = np.array([collection == group for collection in groups])
        whole = np.column_stack((curves_db[chosen], tilts[chosen]))
        away = whole - np.median(whole, axis=0)
        size = np.sqrt(np.mean(away[:, :-1] ** 2, axis=1))
        drawn = np.minimum(1.0, ODD * np.median(size) / np.maximum(size, 1e-9))
        rows.append(away * drawn[:, None] * np.sqrt(sizes[group] / (sizes[group] - 1)))
    away = np.vstack(rows)
    bands = away[:, :-1]
    spread = np.sqrt(np.mean(bands**2, axis=0))
    return KindTable(
        songs=len(away),
        collections=len(large_enough),
        band_hz=band_hz,
        spread_db=np.convolve(np.pad(spread, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid"),
        tilt_spread_db_per_octave=float(np.sqrt(np.mean(away[:, -1] ** 2))),
        correlation=bands.T @ bands / len(bands) / np.outer(spread, spread),
    )


def kinds_to_json(table: KindTable) -> str:
    """Write a table as JSON.

    Rounded to what its precision deserves, one row a line.
    """
    rows = {
        "songs": table.songs,
        "collections": table.collections,
        "band_hz": table.band_hz.round(4).tolist(),
        "spread_db": table.spread_db.round(2).tolist(),
        "tilt_spread_db_per_octave": round(table.tilt_spread_db_per_octave, 3),
    }
    lines = [f" {json.dumps(name)}: {json.dumps(value)}" for name, value in rows.items()]
    correlation = ",\n  ".join(json.dumps(row) for row in table.correlation.round(3).tolist())
    return "{\n" + ",\n".join([*lines, f' "correlation": [\n  {correlation}\n ]']) + "\n}\n"


def kinds_from_json(text: str) -> KindTable:
    """Read what `kinds_to_json` wrote."""
    rows = json.loads(text)
    for name in ("band_hz", "spread_db", "correlation"):
        rows[name] = np.array(rows[name])
    return KindTable(**rows)


@cache
def kinds() -> KindTable:
    """Return how songs of one kind differ."""
    return kinds_from_json(resources.files("features.comparison").joinpath(TABLE).read_text(encoding="utf-8"))
