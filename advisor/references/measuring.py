"""Measure a reference song: one pass for loudness and spectrum, and its densest 30 s for peaks and hits; nothing else is needed."""

import hashlib
from collections.abc import Callable
from pathlib import Path

from advisor.references.records import Song
from features.file_faults.bandwidth import find_wall
from features.loudness.level import LevelMeter, LevelTrace, measure_level
from features.song.headline import crest_trace_of, dense_sound, hit_trace_of, measure_headline
from features.song.sections import measure_sections
from features.sound.load import Opened, open_source
from features.sound.signal import BLOCK_FRAMES
from features.sound.spectrogram import Spectrogram, SpectrogramMeter
from features.tone.ear import measure_ear
from features.tone.spectrum import measure_spectrum

SHORTEST_S = 10.0
HASH_BYTES = 1 << 20


class UnfitError(Exception):
    """A file that opens, but is no song to compare with; the message says why."""


def content_hash(path: Path) -> str:
    """Return the hash of a file's bytes: the same as `File.sha256`."""
    with path.open("rb") as file:
        found = hashlib.sha256()
        while chunk := file.read(HASH_BYTES):
            found.update(chunk)
    return found.hexdigest()


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
        return _measured(opened, *_traces(opened, advance))


def _traces(opened: Opened, advance: Callable[[float], None]) -> tuple[LevelTrace, Spectrogram]:
    source = opened.source
    level, spectrogram = LevelMeter(source.rate_hz, source.channels), SpectrogramMeter(source.rate_hz, source.channels)
    done = 0
    for block in source.blocks(BLOCK_FRAMES):
        level.push(block)
        spectrogram.push(block)
        done += block.shape[1]
        advance(done / max(source.frames, 1))
    return level.finish(), spectrogram.finish()


def _measured(opened: Opened, level_trace: LevelTrace, spectrogram: Spectrogram) -> Song:
    sections = measure_sections(level_trace, spectrogram)
    level = measure_level(level_trace, sections.densest)
    spectrum = measure_spectrum(spectrogram)
    if level.integrated_lufs is None or level.true_peak_dbtp is None or not spectrum.third_octave_db:
        raise UnfitError("it holds nothing but silence")
    sound, densest = dense_sound(opened.source, sections)
    hits = hit_trace_of(sound)
    times_s = tuple(float(each) + densest.start_s for each in hits.times_s)
    headline = measure_headline(spectrum, measure_ear(spectrogram), level, level_trace, crest_trace_of(sound), times_s, densest)
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
        percussive_share=hits.percussive_share,
        third_octave_hz=spectrum.third_octave_hz,
        third_octave_db=spectrum.third_octave_db,
        headline=headline,
    )
