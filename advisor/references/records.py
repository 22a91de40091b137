"""What is kept of a reference song.

Numbers only, exact in a JSON round trip; never its sound.
"""

import json
from dataclasses import asdict, dataclass

from advisor.report_model import codec
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


def from_json(text: object) -> Song | None:
    """Read what `to_json` wrote.

    None for what is no song, so that one bad row costs that row.
    """
    if not isinstance(text, str | bytes):
        return None
    try:
        song = codec.from_json(Song, text)
        codec.to_json(song)  # raises for a number that is none
    except (ValueError, RecursionError):
        return None
    return song if 0 < len(song.third_octave_hz) == len(song.third_octave_db) else None
