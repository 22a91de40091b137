"""Finished songs measured once for the tables about references: each as it is, and with a high shelf planted on it.

The shelf is laid on the powers of the third- and twelfth-octave bands, so that a song is decoded once for all of them.
"""

import argparse
import hashlib
import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from advisor.references import measuring
from advisor.references.records import MEASURED_BY, Song, from_json
from features.sound.load import open_source
from features.sound.spectrogram import Spectrogram
from features.tone.ear import measure_ear
from features.tone.spectrum import measure_spectrum

ENDINGS = {".ogg", ".flac", ".wav", ".mp3", ".opus"}
SHELF_HZ = 4000.0
PLANTS_DB = (4.0, 8.0, 12.0)


@dataclass(frozen=True)
class Known:
    """A measured song: its collection, its name, and its planted versions by the shelf's gain in dB."""

    package: str
    name: str
    song: Song
    shelved: dict[float, Song]


def shelf_db(hz: np.ndarray, gain_db: float) -> np.ndarray:
    """Return a second-order analogue high shelf (Q 0.71) with half of its gain at 4 kHz."""
    a, s = 10 ** (gain_db / 40), 1j * hz / SHELF_HZ
    q = np.sqrt(0.5)
    response = a * (a * s**2 + np.sqrt(a) / q * s + 1) / (s**2 + np.sqrt(a) / q * s + a)
    level_db: np.ndarray = 20 * np.log10(np.abs(response))
    return level_db


def planted(spectrogram: Spectrogram, gain_db: float) -> Spectrogram:
    gain = shelf_db(spectrogram.band_hz, gain_db)
    factor = (10 ** (gain / 10)).astype(np.float32)
    detail = spectrogram.detail_db + shelf_db(spectrogram.detail_hz, gain_db).astype(np.float16)
    return replace(
        spectrogram, left=spectrogram.left * factor, right=spectrogram.right * factor, cross=spectrogram.cross * factor, detail_db=detail
    )


def measured(path: Path) -> tuple[Song, dict[float, Song]]:
    with open_source(path) as opened:
        resolver = measuring.listened(opened)
        song, spectrogram = measuring.song_of(opened, resolver), resolver.get(Spectrogram)
    shelved = {}
    for gain_db in PLANTS_DB:
        changed = planted(spectrogram, gain_db)
        spectrum = measure_spectrum(changed)
        share = measure_ear(changed).share_2k_5k
        headline = replace(song.headline, tilt_db_per_octave=spectrum.tilt_db_per_octave, ear_share=share)
        shelved[gain_db] = replace(song, third_octave_db=spectrum.third_octave_db, headline=headline)
    return song, shelved


def known(path: Path, cache: Path) -> Known:
    room = cache / f"{hashlib.sha256(str(path).encode()).hexdigest()[:16]}-{MEASURED_BY}-{path.stat().st_mtime_ns}.json"
    if not room.exists():
        song, shelved = measured(path)
        rows = {"song": asdict(song), "shelved": {str(gain): asdict(song) for gain, song in shelved.items()}}
        room.write_text(json.dumps(rows), encoding="utf-8")
    rows = json.loads(room.read_text(encoding="utf-8"))
    shelved = {float(gain): kept(document) for gain, document in rows["shelved"].items()}
    return Known(path.parent.name, path.name, kept(rows["song"]), shelved)


def kept(row: object) -> Song:
    song = from_json(json.dumps(row))
    assert song is not None
    return song


def all_known(folder: Path, cache: Path) -> list[Known]:
    """Measure every song under a folder that holds one folder per collection."""
    cache.mkdir(parents=True, exist_ok=True)
    return [known(path, cache) for path in sorted(folder.rglob("*")) if path.suffix.lower() in ENDINGS]


def parser(words: str) -> argparse.ArgumentParser:
    made = argparse.ArgumentParser(description=words)
    made.add_argument("--songs", type=Path, required=True, help="folder with one folder of finished songs per collection")
    made.add_argument("--cache", type=Path, required=True, help="folder to keep measured numbers in")
    return made
