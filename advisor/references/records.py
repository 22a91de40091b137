"""What is kept of a reference song.

Numbers only, exact in a JSON round trip; never its sound.
"""

import json
from dataclasses import asdict, dataclass
from typing import Any

from features.records.base import Absence
from features.records.headline import Headline

MEASURED_BY = 1  # raised whenever a headline reading changes its meaning: songs are then measured again


@dataclass(frozen=True, slots=True)
class Song:
    """One measured song."""

    duration_s: float
    rate_hz: int
    channels: int
    lossy: bool
    integrated_lufs: float
    true_peak_dbtp: float
    bandwidth_hz: float | None  # where a wall ends the spectrum; None when it reaches the top
    percussive_share: float | None  # of the energy of its densest 30 s
    third_octave_hz: tuple[float, ...]
    third_octave_db: tuple[float, ...]
    headline: Headline


@dataclass(frozen=True, slots=True)
class Reference:
    """A song as it stands on a shelf."""

    sha256: str
    name: str
    path: str
    song: Song


def to_json(song: Song) -> str:
    """Write a song. Python's floats keep every bit in JSON."""
    return json.dumps(asdict(song), separators=(",", ":"))


def from_json(text: str) -> Song:
    """Read what `to_json` wrote."""
    rows: dict[str, Any] = json.loads(text)
    headline: dict[str, Any] = rows.pop("headline")
    absent = tuple(Absence(**absence) for absence in headline.pop("absent"))
    for name in ("third_octave_hz", "third_octave_db"):
        rows[name] = tuple(rows[name])
    return Song(**rows, headline=Headline(**headline, absent=absent))
