"""Opens sound files: by libsndfile, the rest through ffmpeg."""

import hashlib
import os
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from types import TracebackType
from typing import Any, BinaryIO, Self

import numpy as np
import soundfile

from features.records.base import Absence
from features.records.file import File
from features.sound.opening.door import PROBED_BYTES, LoadError, name_of, ordinary_file, unreadable
from features.sound.opening.ffmpeg import decode, undecoded
from features.sound.opening.formats import BITS, EXACT_FORMATS, USUAL, contradicts, promised_frames
from features.sound.signal import BLOCK_FRAMES, Samples, Signal, Source

__all__ = ["FileSource", "LoadError", "Opened", "open_source"]

MEMORY_BYTES = 256 << 20  # decoded sound up to this size is held in memory
READ_FRAMES = 1 << 15
LOWEST_RATE_HZ, HIGHEST_RATE_HZ, MOST_CHANNELS = 8000, 192000, 2
LOUDEST_DBFS = 24.0  # no music passes it: what does is no sound, and would harm ears if it were played
LOUDEST = 10.0 ** (LOUDEST_DBFS / 20.0)
MOST_TOO_LOUD, TOO_LOUD_SHARE = 64, 1e-4  # a few such samples are a click, more of them another kind of file
LONGEST_S = 12 * 3600.0


class _Cleaner:
    """Turns samples that are no sound into zeros and counts each of them once, however often it is read."""

    def __init__(self, name: str) -> None:
        self.not_finite = 0
        self._name = name
        self._too_loud = 0
        self._seen_to = 0

    def clean(self, samples: Samples, start: int) -> Samples:
        good = np.abs(samples) <= LOUDEST  # false for NaN
        fresh = max(self._seen_to - start, 0)
        self._seen_to = max(self._seen_to, start + samples.shape[1])
        if not good.all():
            bad = ~good[:, fresh:]
            self.not_finite += int(np.count_nonzero(bad))
            self._count_loud(samples[:, fresh:][bad], samples.shape[0])
            samples[~good] = 0.0
        return samples

    def _count_loud(self, bad: Samples, channels: int) -> None:
        self._too_loud += int(np.count_nonzero(np.isfinite(bad)))
        if self._too_loud > max(MOST_TOO_LOUD, TOO_LOUD_SHARE * self._seen_to * channels):
            raise LoadError(
                f"“{self._name}” holds samples more than {LOUDEST_DBFS:.0f} dB over full scale, which no music reaches, so it is "
                "damaged or written in another scale; bounce it again as WAV with 24 bits."
            )


class FileSource:
    """A long file as a `Source`, read in pieces."""

    def __init__(self, sound: soundfile.SoundFile, cleaner: _Cleaner, name: str) -> None:
        """Take an open file that seeks exactly, and its name."""
        self.rate_hz = int(sound.samplerate)
        self.channels = int(sound.channels)
        self.frames = int(sound.frames)
        self._sound = sound
        self._cleaner = cleaner
        self._name = name
        self._place = 0
        self._lock = Lock()

    def read(self, start: int, count: int) -> Samples:
        """Return up to ``count`` frames from ``start`` on."""
        first = min(max(start, 0), self.frames)
        last = min(first + max(count, 0), self.frames)
        with self._lock:
            if first != self._place:
                self._sound.seek(first)
            try:
                samples = _planar(self._sound.read(last - first, dtype="float32", always_2d=True))
            except soundfile.SoundFileError as error:
                raise LoadError(f"“{self._name}” is damaged after {first / self.rate_hz:.1f} s ({error}).") from None
            self._place = first + samples.shape[1]
            return self._cleaner.clean(samples, first)

    def blocks(self, size: int = BLOCK_FRAMES) -> Iterator[Samples]:
        """Yield the sound once, in blocks of ``size`` frames."""
        for start in range(0, self.frames, size):
            yield self.read(start, size)


@dataclass(slots=True)
class Opened:
    """An open sound, to be closed or used in ``with``.

    Attributes
    ----------
    source
        The sound: a `Signal` when it fits into 256 MiB, else a `FileSource`.
    file
        What the file says about itself.
    notes
        What the reader should know, in plain sentences; usually empty.
    """

    source: Source
    file: File
    notes: tuple[str, ...]
    _cleaner: _Cleaner = field(repr=False)
    _stack: ExitStack = field(repr=False)

    @property
    def not_finite(self) -> int:
        """Samples read as zero since they were no number."""
        return self._cleaner.not_finite

    def close(self) -> None:
        """Close the file, and remove what was made for it."""
        self._stack.close()

    def __enter__(self) -> Self:
        """Return itself."""
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        """Close, also after an error."""
        self.close()


def open_source(path: str | Path, *, memory_bytes: int | None = None, hashed: bool = True) -> Opened:
    """Open a sound file of one or two channels.

    Parameters
    ----------
    path
        Any file libsndfile reads; others need ffmpeg.
    memory_bytes
        Decoded sound up to this size is held in memory (256 MiB); with 0 all is read from the disk, piece by piece.
    hashed
        Without, the file's bytes are not read for their hash, and ``file.sha256`` is empty.

    Raises
    ------
    LoadError
        When the file is missing, holds no usable sound, or cannot be decoded.
    OSError
        When the machine has no more open files or memory to give.
    """
    path = Path(path)
    try:
        return _opened(path.absolute(), MEMORY_BYTES if memory_bytes is None else memory_bytes, hashed=hashed)
    except OSError as error:
        raise unreadable(path, error) from None


def _opened(path: Path, memory_bytes: int, *, hashed: bool) -> Opened:
    sha256, head = _inspect(path, hashed=hashed)
    name = name_of(path)
    with ExitStack() as stack:
        cleaner = _Cleaner(name)
        sound = _libsndfile(path, stack)
        if sound is None:
            sound, subtype, bits, lossy = _through_ffmpeg(path, head, stack)
        else:
            subtype = str(sound.subtype)
            bits, lossy = BITS.get(subtype), subtype not in BITS
        _check_shape(name, sound)
        promised = _promised(path, sound)
        source, complaint = _source(path, sound, cleaner, stack, memory_bytes)
        if source.frames == 0:
            raise LoadError(
                f"The header of “{name}” says that it holds no samples (the file has {path.stat().st_size} bytes), so there is "
                "nothing to measure; bounce it again, or repair it in the program that recorded it."
            )
        file = File(
            name=name, sha256=sha256, duration_s=source.frames / source.rate_hz, rate_hz=source.rate_hz,
            channels=source.channels, subtype=subtype, bits=bits, lossy=lossy, absent=_no_bits(lossy, bits),
        )  # fmt: skip
        return Opened(source, file, _notes(file, source.frames, promised, complaint), cleaner, stack.pop_all())


def _no_bits(lossy: bool, bits: int | None) -> tuple[Absence, ...]:
    if bits is not None:
        return ()
    return (Absence("bits", "a lossy format has no fixed number of bits" if lossy else "the format does not say"),)


def _inspect(path: Path, *, hashed: bool) -> tuple[str, bytes]:
    """Return the hash of the file's bytes (empty when not wanted) and the first of them."""
    ordinary_file(path)
    with path.open("rb") as raw:
        head = raw.read(PROBED_BYTES)
        raw.seek(0)
        sha256 = hashlib.file_digest(raw, "sha256").hexdigest() if hashed else ""
    if not head:
        raise LoadError(f"“{name_of(path)}” is empty (0 bytes), so there is nothing to measure; bounce or copy it again.")
    return sha256, head


def _libsndfile(path: Path, stack: ExitStack) -> soundfile.SoundFile | None:
    """Open with libsndfile; ``None`` when it does not know the format."""
    try:
        sound = stack.enter_context(soundfile.SoundFile(_for_library(path)))
    except (soundfile.SoundFileError, TypeError, ValueError):  # the latter two: headerless formats
        path.open("rb").close()  # says so where there are no more open files
        return None
    if sound.format.lower() not in USUAL and contradicts(path.suffix, [sound.format]):
        return None
    # libsndfile takes the extensible float kind of W64 for 32-bit integers.
    return None if (sound.format, sound.subtype) == ("W64", "PCM_32") else sound


def _for_library(path: Path) -> str | bytes:
    """Return a path as libsndfile takes it, also where its bytes are no text."""
    return str(path) if os.name == "nt" else os.fsencode(path)


def _check_shape(name: str, sound: soundfile.SoundFile) -> None:
    channels, rate_hz = int(sound.channels), int(sound.samplerate)
    if channels > MOST_CHANNELS:
        raise LoadError(
            f"“{name}” has {channels} channels, and only mono and stereo are judged; bounce it again as one interleaved "
            "stereo file (the main output, not the single tracks or a surround bus)."
        )
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise LoadError(
            f"“{name}” has a sampling rate of {rate_hz} Hz, outside the 8 to 192 kHz that can be measured; bounce it at the "
            "session's rate, for example 44100 or 48000 Hz."
        )
    if sound.frames > LONGEST_S * rate_hz:
        raise LoadError(
            f"“{name}” lasts {sound.frames / rate_hz / 3600.0:.0f} hours, and songs of at most {LONGEST_S / 3600.0:.0f} are measured; "
            "bounce one song as one file."
        )


def _source(path: Path, sound: soundfile.SoundFile, cleaner: _Cleaner, stack: ExitStack, memory_bytes: int) -> tuple[Source, str]:
    """Return the sound, in memory or on disk, and libsndfile's complaint if it broke off."""
    complaint = ""
    if _size(sound) > memory_bytes and not _seeks(sound):
        sound, complaint = _decoded(path, sound, stack)
    if _size(sound) > memory_bytes:
        return FileSource(sound, cleaner, name_of(path)), complaint
    samples, own = _in_memory(path, sound, cleaner)
    return Signal(samples, int(sound.samplerate)), complaint or own


def _size(sound: soundfile.SoundFile) -> int:
    return int(sound.frames) * int(sound.channels) * 4


def _seeks(sound: soundfile.SoundFile) -> bool:
    """Say whether seeking is exact and the file really reaches its end."""
    if sound.format not in EXACT_FORMATS or sound.subtype not in BITS:
        return False
    try:
        sound.seek(sound.frames - 1)
        whole = len(sound.read(1, dtype="float32")) == 1
        sound.seek(0)
    except soundfile.SoundFileError:
        return False
    return whole


def _pieces(path: Path, sound: soundfile.SoundFile, complaints: list[str]) -> Iterator[Any]:
    """Yield interleaved blocks to the end; a file that breaks off after some sound leaves its reason in ``complaints``."""
    started = False
    buffer = np.empty((READ_FRAMES, sound.channels), np.float32)
    while True:
        try:
            piece = sound.read(out=buffer)
        except soundfile.SoundFileError as error:
            if not started:
                raise LoadError(
                    f"“{name_of(path)}” could not be decoded ({error}), so there is nothing to measure; bounce or copy it again."
                ) from None
            complaints.append(str(error))
            return
        if len(piece) == 0:
            return
        started = True
        yield piece


def _in_memory(path: Path, sound: soundfile.SoundFile, cleaner: _Cleaner) -> tuple[Samples, str]:
    samples = np.zeros((sound.channels, sound.frames), np.float32)
    complaints: list[str] = []
    filled = 0
    for piece in _pieces(path, sound, complaints):
        count = min(len(piece), samples.shape[1] - filled)
        part = samples[:, filled : filled + count]
        part[:] = piece[:count].T
        cleaner.clean(part, filled)
        filled += count
    return np.ascontiguousarray(samples[:, :filled]), "".join(complaints)


def _planar(interleaved: Any) -> Samples:  # noqa: ANN401 - soundfile has no types
    return np.array(interleaved.T, np.float32, order="C")


def _decoded(path: Path, sound: soundfile.SoundFile, stack: ExitStack) -> tuple[soundfile.SoundFile, str]:
    """Decode once to a temporary file of float32 in which every sample can be found again."""
    complaints: list[str] = []
    try:
        target = _nameless(stack)
        with (
            soundfile.SoundFile(_for_library(path)) as fresh,  # the other one may be lost after a failed seek
            soundfile.SoundFile(target.fileno(), "w", sound.samplerate, sound.channels, "FLOAT", format="W64", closefd=False) as copy,
        ):
            for piece in _pieces(path, fresh, complaints):
                copy.write(piece)
    except (OSError, soundfile.SoundFileError) as error:
        raise _no_room(path, f"needs {_size(sound) >> 20} MiB of", error) from None
    return _reopened(target, stack), "".join(complaints)


def _no_room(path: Path, needs: str, error: Exception) -> LoadError:
    return LoadError(
        f"“{name_of(path)}” is long and {needs} temporary space, which could not be written ({error}); free some space in the temporary "
        "folder, or bounce to WAV."
    )


def _nameless(stack: ExitStack) -> BinaryIO:
    """Return a temporary file that has no name: it is gone with this process, however that ends."""
    return stack.enter_context(tempfile.TemporaryFile())


def _reopened(target: BinaryIO, stack: ExitStack) -> soundfile.SoundFile:
    target.seek(0)
    return stack.enter_context(soundfile.SoundFile(target.fileno(), closefd=False))


def _through_ffmpeg(path: Path, head: bytes, stack: ExitStack) -> tuple[soundfile.SoundFile, str, int | None, bool]:
    """Decode with ffmpeg to a temporary file; return it, the codec, its bits and whether it is lossy."""
    target = _nameless(stack)
    try:
        coding = decode(path, head, target)
        sound = _reopened(target, stack)
    except OSError as error:
        raise _no_room(path, "needs", error) from None
    except soundfile.SoundFileError as error:
        raise undecoded(path, str(error)) from None
    return sound, coding.codec, coding.bits, coding.lossy


def _promised(path: Path, sound: soundfile.SoundFile) -> int:
    frames = int(sound.frames)
    if sound.subtype not in BITS:
        return frames
    with path.open("rb") as raw:
        stated = promised_frames(raw, max(BITS[sound.subtype] // 8, 1) * int(sound.channels))
    return frames if stated is None else stated


def _notes(file: File, frames: int, promised: int, complaint: str) -> tuple[str, ...]:
    cut = frames + file.rate_hz // 100 < promised < (1 << 62)  # a few frames more or less are sloppy writing
    if not cut and not complaint:
        return ()
    if complaint:
        of = f" of {promised / file.rate_hz:.1f} s" if cut else ""
        seen = f"The file is damaged: decoding stopped after {file.duration_s:.1f} s{of}"
    else:
        seen = f"The file is cut short: it promises {promised / file.rate_hz:.1f} s and holds {file.duration_s:.1f} s"
    return (f"{seen}; only what is there was measured, so bounce or copy it again.",)
