"""Measure a reference song.

Loudness and spectrum of the whole, peaks and hits of its densest 30 s.
"""

import hashlib
from collections.abc import Callable
from pathlib import Path

from advisor.app.progress import Quiet
from advisor.measuring.resolver import Resolver
from advisor.references.records import Song
from features.file_faults.bandwidth import find_wall
from features.records.headline import Headline
from features.records.level import Level
from features.records.sections import Sections
from features.records.spectrum import Spectrum
from features.song.headline import DenseStretch, read_dense_stretch
from features.sound.load import Opened, open_source
from features.sound.spectrogram import Spectrogram

WANTED = (Sections, Level, Spectrum, Headline, DenseStretch, Spectrogram)
SHORTEST_S = 10.0
HASH_BYTES = 1 << 20


class UnfitError(Exception):
    """A file that opens, but is no reference song.

    The message says why.
    """


def content_hash(path: Path) -> str:
    """Return the hash of a file's bytes.

    The same as `File.sha256`.
    """
    with path.open("rb") as file:
        digest = hashlib.sha256()
        while chunk := file.read(HASH_BYTES):
            digest.update(chunk)
    return digest.hexdigest()


def measure_song(path: Path, advance: Callable[[float], None] = lambda _: None) -> Song:
    """Measure one song.

    Raises
    ------
    LoadError
        When the file cannot be read.
    UnfitError
        When it holds less than 10 s, or nothing but silence.
    """
    with open_source(path, hashed=False) as opened:
        if opened.file.duration_s < SHORTEST_S:
            raise UnfitError(f"it lasts {opened.file.duration_s:.1f} s, and songs are compared from {SHORTEST_S:.0f} s on")
        return song_of(opened, listened(opened, advance))


class _Advancing(Quiet):
    """Passes on how far a song is, and nothing else."""

    def __init__(self, advance: Callable[[float], None]) -> None:
        self._advance = advance

    def advance(self, done: float) -> None:
        """Pass it on."""
        self._advance(done)


def listened(opened: Opened, advance: Callable[[float], None] = lambda _: None) -> Resolver:
    """Listen through a song once."""
    resolver = Resolver(opened.source, WANTED, (), (read_dense_stretch,), contain=False)
    resolver.listen(_Advancing(advance))
    return resolver


def song_of(opened: Opened, resolver: Resolver) -> Song:
    """Work out what is kept of a song."""
    resolver.make((Sections, Level, Spectrum))
    level, spectrum = resolver.get(Level), resolver.get(Spectrum)
    if level.integrated_lufs is None or level.true_peak_dbtp is None or not spectrum.third_octave_db:
        raise UnfitError("it holds nothing but silence")
    resolver.make((Headline, DenseStretch, Spectrogram))
    spectrogram = resolver.get(Spectrogram)
    wall = find_wall(spectrogram.fine_hz, spectrogram.fine_left + spectrogram.fine_right)
    file = opened.file
    return Song(
        duration_s=file.duration_s,
        rate_hz=file.rate_hz,
        channels=file.channels,
        lossy=file.lossy,
        integrated_lufs=level.integrated_lufs,
        true_peak_dbtp=level.true_peak_dbtp,
        bandwidth_hz=None if wall is None else wall.frequency_hz,
        percussive_share=resolver.get(DenseStretch).percussive_share,
        third_octave_hz=spectrum.third_octave_hz,
        third_octave_db=spectrum.third_octave_db,
        headline=resolver.get(Headline),
    )
