"""Measure features/data/target_table.json and kind_table.json, and the tables in docs/target.md, from folders of finished songs.

    python docs/make_target_table.py SONGS          SONGS holds one folder per collection

Only statistics over all songs are written; nothing of any song is kept.
"""

import re
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import soundfile as sf

from features.kind import TABLE as KINDS
from features.kind import KindTable, kinds_to_json, tabulate_kinds
from features.spectrogram import Spectrogram, SpectrogramMeter
from features.spectrum import measure_spectrum
from features.target import TABLE, Floats, SongTable, prior, table_to_json, tabulate

DOCS = Path(__file__).parent
ENDINGS = {".ogg", ".flac", ".wav", ".mp3", ".opus"}
LEAST_S = 30.0
SET_ON = ("nexuiz-music", "singularity-music", "zaz-data")
Heard = tuple[str, tuple[float, ...], float, tuple[float, ...]]  # collection, curve, slope, band centres


def songs_in(folder: Path) -> list[Path]:
    """Return the songs under ``folder``, sorted."""
    return sorted(path for path in folder.rglob("*") if path.suffix.lower() in ENDINGS)


def spectrogram_of(path: Path) -> Spectrogram:
    """Read one song block by block."""
    with sf.SoundFile(path) as file:
        channels = min(file.channels, 2)
        meter = SpectrogramMeter(file.samplerate, channels)
        for block in file.blocks(1 << 17, dtype="float32", always_2d=True):
            meter.push(np.ascontiguousarray(block.T[:channels]))
        return meter.finish()


def heard_in(folder: Path) -> list[Heard]:
    """Measure every song of at least 30 s that reaches 20 kHz and plays; return each with its collection."""
    heard: list[Heard] = []
    for path in songs_in(folder):
        spectrogram = spectrogram_of(path)
        if spectrogram.duration_s >= LEAST_S and len(spectrogram.band_hz) == 31:
            one = measure_spectrum(spectrogram)
            if one.tilt_db_per_octave is not None:
                heard.append((path.parent.name, one.third_octave_db, one.tilt_db_per_octave, one.third_octave_hz))
    return heard


def arrays(heard: Sequence[Heard]) -> tuple[Floats, Floats, Floats, list[str]]:
    """Return curves, slopes, band centres and collections."""
    groups, curves, tilts, hz = zip(*heard, strict=True)
    return np.array(curves), np.array(tilts), np.array(hz[0]), list(groups)


def table_of(heard: Sequence[Heard]) -> SongTable:
    """Return the statistics of all songs."""
    return tabulate(*arrays(heard))


def kinds_of(heard: Sequence[Heard]) -> KindTable:
    """Return how songs differ within the collections on which limits are set: the others are kept out, to try it on."""
    return tabulate_kinds(*arrays([one for one in heard if one[0] in SET_ON]))


def page_table(table: SongTable) -> str:
    """Return the table of docs/target.md."""
    record = prior(table, "").record
    lines = [
        f"{table.songs} songs; tilt: median {table.tilt_db_per_octave:.2f} dB/oct, spread {table.tilt_spread_db_per_octave:.2f}.",
        "",
        "| Hz | median of the songs, dB | spread between them, dB | target, dB | tolerance (1 SD), dB |",
        "|---:|---:|---:|---:|---:|",
    ]
    rows = zip(table.band_hz, table.median_db, table.spread_db, record.third_octave_db, record.spread_db, strict=True)
    lines += [f"| {hz:.0f} | {median:.1f} | {spread:.1f} | {target:.1f} | {least:.1f} |" for hz, median, spread, target, least in rows]
    return "\n".join(lines)


def main() -> None:
    """Write both tables and the page."""
    heard = heard_in(Path(sys.argv[1]))
    table = table_of(heard)
    (DOCS.parent / "features" / KINDS).write_text(kinds_to_json(kinds_of(heard)), encoding="utf-8")
    (DOCS.parent / "features" / TABLE).write_text(table_to_json(table), encoding="utf-8")
    page = DOCS / "target.md"
    marks = "<!-- table -->\n", "\n<!-- end of table -->"
    text = re.sub(f"{marks[0]}.*{marks[1]}", lambda _: marks[0] + page_table(table) + marks[1], page.read_text("utf-8"), flags=re.DOTALL)
    page.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
