"""Measure features/data/target_table.json, and the tables in docs/target.md, from folders of finished songs.

    python docs/make_target_table.py SONGS          SONGS holds one folder per collection

Only statistics over all songs are written; nothing of any song is kept.
"""

import re
import sys
from pathlib import Path

import numpy as np
import soundfile as sf

from features.measurements import Spectrum
from features.spectrogram import Spectrogram, SpectrogramMeter
from features.spectrum import measure_spectrum
from features.target import TABLE, SongTable, prior, table_to_json, tabulate

DOCS = Path(__file__).parent
ENDINGS = {".ogg", ".flac", ".wav", ".mp3", ".opus"}
LEAST_S = 30.0


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


def table_of(folder: Path) -> SongTable:
    """Measure every song of at least 30 s that reaches 20 kHz and plays."""
    spectra: list[tuple[str, Spectrum]] = []
    for path in songs_in(folder):
        spectrogram = spectrogram_of(path)
        if spectrogram.duration_s >= LEAST_S and len(spectrogram.band_hz) == 31:
            spectra.append((path.parent.name, measure_spectrum(spectrogram)))
    heard = [(group, one, one.tilt_db_per_octave) for group, one in spectra if one.tilt_db_per_octave is not None]
    return tabulate(
        np.array([one.third_octave_db for _, one, _ in heard]),
        np.array([tilt for _, _, tilt in heard]),
        np.array(heard[0][1].third_octave_hz),
        [group for group, _, _ in heard],
    )


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
    """Write both files."""
    table = table_of(Path(sys.argv[1]))
    (DOCS.parent / "features" / TABLE).write_text(table_to_json(table), encoding="utf-8")
    page = DOCS / "target.md"
    marks = "<!-- table -->\n", "\n<!-- end of table -->"
    text = re.sub(f"{marks[0]}.*{marks[1]}", lambda _: marks[0] + page_table(table) + marks[1], page.read_text("utf-8"), flags=re.DOTALL)
    page.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
