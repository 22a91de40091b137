"""Measure how finished songs differ: the tables of features/tone and features/comparison, and that of docs/target.md.

    python -m tests.benchmarks.tables.make_target_table SONGS          SONGS holds one folder per collection

Only statistics over all songs are written; nothing of any song is kept.
"""

import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile as sf

from features.comparison.song_kind import TABLE as KINDS
from features.comparison.song_kind import KindTable, kinds_to_json, tabulate_kinds
from features.hits.audibility import HitMeter
from features.hits.separation import PartCurves
from features.records.spectrum import Spectrum
from features.sound.spectrogram import Spectrogram, SpectrogramMeter
from features.tone.part_covariance import TABLE as PART_COVARIANCE
from features.tone.part_covariance import PartCovarianceTable, part_covariance_to_json, stacked, tabulate_part_covariance
from features.tone.spectrum import measure_spectrum
from features.tone.target import TABLE, Floats, SongTable, TargetModel, prior, table_to_json, tabulate

ROOT = Path(__file__).parents[3]
ENDINGS = {".ogg", ".flac", ".wav", ".mp3", ".opus"}
LEAST_S = 30.0
ALL_BANDS = 31
SET_ON = ("nexuiz-music", "singularity-music", "zaz-data")


def songs_in(folder: Path) -> list[Path]:
    """Return the songs under ``folder``, sorted."""
    return sorted(path for path in folder.rglob("*") if path.suffix.lower() in ENDINGS)


@dataclass(frozen=True, slots=True)
class SongSound:
    """What is measured of a song's sound: its spectrogram, and the mean spectra of its percussive and sustained parts."""

    spectrogram: Spectrogram
    parts: PartCurves


def sound_of(path: Path) -> SongSound:
    """Read one song block by block."""
    with sf.SoundFile(path) as file:
        channels = min(file.channels, 2)
        meter, hits = SpectrogramMeter(file.samplerate, channels), HitMeter(file.samplerate, channels)
        for block in file.blocks(1 << 17, dtype="float32", always_2d=True):
            samples = np.ascontiguousarray(block.T[:channels])
            meter.push(samples)
            hits.push(samples)
        return SongSound(meter.finish(), hits.finish().parts)


def spectra_of(folder: Path) -> tuple[list[Spectrum], list[str]]:
    """Measure every song of at least 30 s that reaches 20 kHz and plays; return the spectra, and the collections they come from."""
    spectra, groups = [], []
    for path in songs_in(folder):
        sound = sound_of(path)
        if sound.spectrogram.duration_s < LEAST_S or len(sound.spectrogram.band_hz) != ALL_BANDS:
            continue
        spectrum = measure_spectrum(sound.spectrogram, sound.parts)
        if spectrum.tilt_db_per_octave is not None:
            spectra.append(spectrum)
            groups.append(path.parent.name)
    return spectra, groups


def arrays(spectra: Sequence[Spectrum], groups: Sequence[str]) -> tuple[Floats, Floats, Floats, list[str]]:
    """Return curves, slopes, band centres and collections."""
    curves = np.array([spectrum.third_octave_db for spectrum in spectra])
    tilts = np.array([spectrum.tilt_db_per_octave for spectrum in spectra])
    return curves, tilts, np.array(spectra[0].third_octave_hz), list(groups)


def table_of(spectra: Sequence[Spectrum], groups: Sequence[str]) -> SongTable:
    """Return the statistics of all songs."""
    return tabulate(*arrays(spectra, groups))


def kinds_of(spectra: Sequence[Spectrum], groups: Sequence[str]) -> KindTable:
    """Return how songs differ within the collections on which limits are set: the others are kept out, to try it on."""
    chosen = [(spectrum, group) for spectrum, group in zip(spectra, groups, strict=True) if group in SET_ON]
    return tabulate_kinds(*arrays([spectrum for spectrum, _ in chosen], [group for _, group in chosen]))


def part_covariance_of(spectra: Sequence[Spectrum], groups: Sequence[str]) -> PartCovarianceTable:
    """Tabulate the curves of their parts; songs of one part only are left out."""
    separated = [(curves, group) for spectrum, group in zip(spectra, groups, strict=True) if (curves := stacked(spectrum)) is not None]
    return tabulate_part_covariance(
        np.array([curves for curves, _ in separated]), np.array(spectra[0].third_octave_hz), [group for _, group in separated]
    )


def model_of(spectra: Sequence[Spectrum], groups: Sequence[str], label: str) -> TargetModel:
    """Return the target that these songs make."""
    return prior(table_of(spectra, groups), label, part_covariance_of(spectra, groups))


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
    """Write the tables and the page."""
    spectra, groups = spectra_of(Path(sys.argv[1]))
    table = table_of(spectra, groups)
    (ROOT / "features" / "comparison" / KINDS).write_text(kinds_to_json(kinds_of(spectra, groups)), encoding="utf-8")
    (ROOT / "features" / "tone" / PART_COVARIANCE).write_text(
        part_covariance_to_json(part_covariance_of(spectra, groups)), encoding="utf-8"
    )
    (ROOT / "features" / "tone" / TABLE).write_text(table_to_json(table), encoding="utf-8")
    page = ROOT / "docs" / "target.md"
    marks = "<!-- table -->\n", "\n<!-- end of table -->"
    text = re.sub(f"{marks[0]}.*{marks[1]}", lambda _: marks[0] + page_table(table) + marks[1], page.read_text("utf-8"), flags=re.DOTALL)
    page.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
