"""What lossy formats make of the peaks.

The file is encoded and decoded again, and its true peak read as a listener's player has it.

An encoder throws away what is not heard, which moves the wave: a true peak under full scale before is often above it afterwards, and a
player that decodes to whole numbers clips there.
"""

import os
import tempfile
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from itertools import groupby, repeat
from typing import BinaryIO

import numpy as np
import soundfile

from advisor.sources.aligned import Resampled
from features.loudness.level import LevelMeter
from features.records.base import Span
from features.records.mastering import Coded
from features.sound.decibels import amplitude_to_db
from features.sound.signal import BLOCK_FRAMES, Samples, Source

MOST_S = 240.0  # longer songs: the four minutes around their densest stretch
OPUS_HZ = 48000
CODED_HZ = (44100, 48000)
OVER_DBTP = 0.05  # an over to the tenth of a dB to which true-peak meters can be trusted
JOINED_STEPS = 10
SILENT_DBTP = -100.0
AT_ONCE = 2  # formats encoded side by side


@dataclass(frozen=True, slots=True)
class Format:
    """A format of libsndfile at one rate.

    ``level`` is the library's compression level, 0 to 1.
    """

    codec: str
    container: str
    subtype: str
    level: float
    mode: str | None = None

    def rate_hz(self, song_hz: int) -> int:
        """Return the rate at which a song is encoded."""
        return OPUS_HZ if self.subtype == "OPUS" else song_hz if song_hz in CODED_HZ else CODED_HZ[0]


FORMATS = (
    Format("MP3", "MP3", "MPEG_LAYER_III", 2 / 3, "CONSTANT"),
    Format("MP3", "MP3", "MPEG_LAYER_III", 0.0, "CONSTANT"),
    Format("Vorbis", "OGG", "VORBIS", 0.7),
    Format("Vorbis", "OGG", "VORBIS", 0.2),
    Format("Opus", "OGG", "OPUS", 0.8),
    Format("Opus", "OGG", "OPUS", 0.5),
)


def code(source: Source, densest: Span | None, true_peak_dbtp: float) -> tuple[tuple[Coded, ...], float]:
    """Encode and decode at the usual rates.

    Return what came of each, worst first, and how much of the song was taken, in seconds.

    A format that this installation cannot write is left out.
    """
    start, count = _stretch(source, densest)
    results: list[Coded] = []
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for rate_hz, forms in groupby(FORMATS, lambda form: form.rate_hz(source.rate_hz)):
            with ExitStack() as stack:
                files: dict[Format, BinaryIO] = {
                    form: stack.enter_context(tempfile.TemporaryFile()) for form in forms
                }  # without names: gone with this process
                coded = _encode(source, start, count, rate_hz, files, pool)
                read = pool.map(_read_back, coded, coded.values(), repeat(count / source.rate_hz), repeat(true_peak_dbtp))
                results += [result for result in read if result is not None]
    return tuple(sorted(results, key=lambda result: -result.true_peak_dbtp)), count / source.rate_hz


def _stretch(source: Source, densest: Span | None) -> tuple[int, int]:
    most = round(MOST_S * source.rate_hz)
    if source.frames <= most:
        return 0, source.frames
    middle = 0.5 * (densest.start_s + densest.end_s) if densest is not None else 0.0
    start = min(max(round(middle * source.rate_hz) - most // 2, 0), source.frames - most)
    return start, most


def _encode(source: Source, start: int, count: int, rate_hz: int, files: dict[Format, BinaryIO], pool: Executor) -> dict[Format, BinaryIO]:
    """Encode in several formats side by side, and return those that worked.

    The song is read, and brought to the rate, once for all of them; the encoders do not wait for Python.
    """
    ready: Source = source if rate_hz == source.rate_hz else Resampled(source, rate_hz)
    first, last = (round(frame * rate_hz / source.rate_hz) for frame in (start, start + count))
    with ExitStack() as stack:
        writers: dict[Format, soundfile.SoundFile] = {}
        for form, file in files.items():
            with suppress(soundfile.LibsndfileError, ValueError):
                writers[form] = stack.enter_context(_writer(file, form, rate_hz, source.channels))
        for at in range(first, last, BLOCK_FRAMES):
            frames = np.ascontiguousarray(ready.read(at, min(BLOCK_FRAMES, last - at)).T)
            written = pool.map(_write, writers.values(), repeat(frames))
            writers = {form: writer for (form, writer), done in zip(tuple(writers.items()), written, strict=True) if done}
    return {form: files[form] for form in writers}


def _writer(file: BinaryIO, form: Format, rate_hz: int, channels: int) -> soundfile.SoundFile:
    return soundfile.SoundFile(
        file.fileno(), "w", rate_hz, channels, form.subtype, format=form.container, compression_level=form.level,
        bitrate_mode=form.mode, closefd=False,
    )  # fmt: skip


def _write(writer: soundfile.SoundFile, frames: Samples) -> bool:
    """Whether a format took the next frames."""
    try:
        writer.write(frames)
    except (soundfile.LibsndfileError, ValueError):
        return False
    return True


def _read_back(form: Format, coded: BinaryIO, length_s: float, true_peak_dbtp: float) -> Coded | None:
    try:
        peaks = _decoded_peaks(coded)
    except (soundfile.LibsndfileError, ValueError):
        return None
    peak_dbtp = amplitude_to_db(float(peaks.max(initial=0.0)))
    if peak_dbtp is None or peak_dbtp < SILENT_DBTP:
        return None
    places = np.flatnonzero(peaks > 10 ** (OVER_DBTP / 20))
    overs = int(np.count_nonzero(np.diff(places) > JOINED_STEPS)) + 1 if places.size else 0
    kbps = os.fstat(coded.fileno()).st_size * 8 / 1000 / max(length_s, 1e-3)
    return Coded(form.codec, kbps, peak_dbtp, peak_dbtp - true_peak_dbtp, overs)


def _decoded_peaks(coded: BinaryIO) -> Samples:
    """Return each 10 ms's true peak of the decoded file."""
    coded.seek(0)
    with soundfile.SoundFile(coded.fileno(), closefd=False) as file:
        meter = LevelMeter(file.samplerate, file.channels)
        while (block := file.read(BLOCK_FRAMES, dtype="float32", always_2d=True)).size:
            meter.push(np.ascontiguousarray(block.T))
    peaks: Samples = meter.finish().true_peak.max(axis=0, initial=0.0)
    return peaks


def safe_ceiling_dbtp(coded: tuple[Coded, ...], true_peak_dbtp: float) -> float | None:
    """Return the highest ceiling that lossy formats keep.

    To a tenth of a dB downwards, at it no decoded peak would pass full scale.

    Peaks grow with the level to within some hundredths of a dB, so the worst rise is taken off full scale.
    """
    if not coded:
        return None
    room = true_peak_dbtp - max(result.true_peak_dbtp for result in coded)
    return float(np.floor(min(room, 0.0) * 10 + 1e-6) / 10)
