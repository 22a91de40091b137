"""What lossy formats make of the peaks.

The file is encoded and decoded again, and its true peak read as a listener's player has it.

An encoder throws away what is not heard, which moves the wave: a true peak under full scale before is often above it afterwards, and a
player that decodes to whole numbers clips there.
"""

import os
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
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
    with tempfile.TemporaryFile() as coded:  # without a name: gone with this process, however that ends
        results = [result for form in FORMATS if (result := _coded(source, start, count, form, coded, true_peak_dbtp)) is not None]
    return tuple(sorted(results, key=lambda result: -result.true_peak_dbtp)), count / source.rate_hz


def _stretch(source: Source, densest: Span | None) -> tuple[int, int]:
    most = round(MOST_S * source.rate_hz)
    if source.frames <= most:
        return 0, source.frames
    middle = 0.5 * (densest.start_s + densest.end_s) if densest is not None else 0.0
    start = min(max(round(middle * source.rate_hz) - most // 2, 0), source.frames - most)
    return start, most


def _coded(source: Source, start: int, count: int, form: Format, coded: BinaryIO, true_peak_dbtp: float) -> Coded | None:
    wanted_hz = OPUS_HZ if form.subtype == "OPUS" else source.rate_hz if source.rate_hz in CODED_HZ else CODED_HZ[0]
    ready: Source = source if wanted_hz == source.rate_hz else Resampled(source, wanted_hz)
    first, last = (round(frame * wanted_hz / source.rate_hz) for frame in (start, start + count))
    try:
        _encode(_blocks(ready, first, last), coded, form, wanted_hz, source.channels)
        peaks = _decoded_peaks(coded)
    except (soundfile.LibsndfileError, ValueError):
        return None
    peak_dbtp = amplitude_to_db(float(peaks.max(initial=0.0)))
    if peak_dbtp is None or peak_dbtp < SILENT_DBTP:
        return None
    places = np.flatnonzero(peaks > 10 ** (OVER_DBTP / 20))
    overs = int(np.count_nonzero(np.diff(places) > JOINED_STEPS)) + 1 if places.size else 0
    kbps = os.fstat(coded.fileno()).st_size * 8 / 1000 / max(count / source.rate_hz, 1e-3)
    return Coded(form.codec, kbps, peak_dbtp, peak_dbtp - true_peak_dbtp, overs)


def _blocks(source: Source, first: int, last: int) -> Iterator[Samples]:
    for at in range(first, last, BLOCK_FRAMES):
        yield source.read(at, min(BLOCK_FRAMES, last - at))


def _encode(blocks: Iterable[Samples], coded: BinaryIO, form: Format, rate_hz: int, channels: int) -> None:
    coded.seek(0)
    coded.truncate()
    with soundfile.SoundFile(
        coded.fileno(),
        "w",
        rate_hz,
        channels,
        form.subtype,
        format=form.container,
        compression_level=form.level,
        bitrate_mode=form.mode,
        closefd=False,
    ) as out:
        for block in blocks:
            out.write(np.ascontiguousarray(block.T))


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
