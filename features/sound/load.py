"""Opens sound files: by libsndfile, the rest through ffmpeg."""

import difflib
import hashlib
import json
import re
import shutil
import stat
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from types import TracebackType
from typing import Any, Self

import numpy as np
import soundfile

from features.records.base import Absence
from features.records.file import File
from features.sound.formats import BITS, EXACT_FORMATS, LOSSLESS_CODECS, promised_frames
from features.sound.signal import BLOCK_FRAMES, Samples, Signal, Source

MEMORY_BYTES = 256 << 20  # decoded sound up to this size is held in memory
READ_FRAMES = 1 << 15
LOWEST_RATE_HZ, HIGHEST_RATE_HZ, MOST_CHANNELS = 8000, 192000, 2
ABSURD = 1e10  # a sample beyond this is no sound, whatever scale the file was written in
FFMPEG_SECONDS = 900
TEXT_BYTES = bytes(range(32, 127)) + b"\t\n\r\f\b"


class LoadError(Exception):
    """Why a file cannot be read, in one plain sentence."""


class _Cleaner:
    """Turns samples that are no number into zeros and counts each of them once, however often it is read."""

    def __init__(self) -> None:
        self.not_finite = 0
        self._seen_to = 0

    def clean(self, samples: Samples, start: int) -> Samples:
        good = np.abs(samples) < ABSURD  # false for NaN
        if not good.all():
            fresh = max(self._seen_to - start, 0)
            self.not_finite += int(np.count_nonzero(~good[:, fresh:]))
            samples[~good] = 0.0
        self._seen_to = max(self._seen_to, start + samples.shape[1])
        return samples


class FileSource:
    """A long file as a `Source`, read in pieces."""

    def __init__(self, sound: soundfile.SoundFile, cleaner: _Cleaner) -> None:
        """Take an open file that seeks exactly."""
        self.rate_hz = int(sound.samplerate)
        self.channels = int(sound.channels)
        self.frames = int(sound.frames)
        self._sound = sound
        self._cleaner = cleaner
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
                raise LoadError(f"“{Path(self._sound.name).name}” is damaged after {first / self.rate_hz:.1f} s ({error}).") from None
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
    """
    path = Path(path).absolute()
    sha256, head = _inspect(path, hashed=hashed)
    with ExitStack() as stack:
        cleaner = _Cleaner()
        sound = _libsndfile(path, stack)
        if sound is None:
            sound, subtype, bits, lossy = _through_ffmpeg(path, head, stack)
        else:
            subtype = str(sound.subtype)
            bits, lossy = BITS.get(subtype), subtype not in BITS
        _check_shape(path, sound.channels, sound.samplerate)
        promised = _promised(path, sound)
        source, complaint = _source(path, sound, cleaner, stack, MEMORY_BYTES if memory_bytes is None else memory_bytes)
        if source.frames == 0:
            raise LoadError(
                f"The header of “{path.name}” says that it holds no samples (the file has {path.stat().st_size} bytes), so there is "
                "nothing to measure; bounce it again, or repair it in the program that recorded it."
            )
        file = File(
            name=path.name, sha256=sha256, duration_s=source.frames / source.rate_hz, rate_hz=source.rate_hz,
            channels=source.channels, subtype=subtype, bits=bits, lossy=lossy, absent=_no_bits(lossy, bits),
        )  # fmt: skip
        return Opened(source, file, _notes(file, source.frames, promised, complaint), cleaner, stack.pop_all())


def _no_bits(lossy: bool, bits: int | None) -> tuple[Absence, ...]:
    if bits is not None:
        return ()
    return (Absence("bits", "a lossy format has no fixed number of bits" if lossy else "the format does not say"),)


def _inspect(path: Path, *, hashed: bool) -> tuple[str, bytes]:
    """Return the hash of the file's bytes (empty when not wanted) and the first of them."""
    try:
        kind = path.stat().st_mode
    except PermissionError:
        raise LoadError(f"The folder of “{path.name}” may not be read by this user; change its permissions or copy the file.") from None
    except (OSError, ValueError):
        raise LoadError(_missing(path)) from None
    if stat.S_ISDIR(kind):
        raise LoadError(f"“{path.name}” is a folder, and one sound file is measured at a time; give the path of a file in it.")
    if not stat.S_ISREG(kind):
        raise LoadError(f"“{path.name}” is not an ordinary file, so it cannot be read twice; copy the sound to a file first.")
    try:
        with path.open("rb") as raw:
            head = raw.read(512)
            raw.seek(0)
            sha256 = hashlib.file_digest(raw, "sha256").hexdigest() if hashed else ""
    except PermissionError:
        raise LoadError(f"“{path.name}” may not be read by this user, so it stays closed; change its permissions or copy it.") from None
    except OSError as error:
        raise LoadError(
            f"“{path.name}” could not be read ({error.strerror}), so measuring stops; copy it to another disk and try again."
        ) from None
    if not head:
        raise LoadError(f"“{path.name}” is empty (0 bytes), so there is nothing to measure; bounce or copy it again.")
    return sha256, head


def _missing(path: Path) -> str:
    folder = path.parent
    if not folder.is_dir():
        return f"There is no folder “{folder}”, so “{path.name}” cannot be opened; check the path."
    try:
        names = [file.name for file in folder.iterdir() if file.is_file()]
    except OSError:
        names = []
    by_lower = {name.lower(): name for name in names}
    near = [by_lower[name] for name in difflib.get_close_matches(path.name.lower(), by_lower, n=3, cutoff=0.6)]
    hint = f"did you mean {' or '.join(f'“{name}”' for name in near)}?" if near else "check the name."
    return f"There is no file “{path.name}” in “{folder}”, so there is nothing to measure; {hint}"


def _libsndfile(path: Path, stack: ExitStack) -> soundfile.SoundFile | None:
    """Open with libsndfile; ``None`` when it does not know the format."""
    try:
        sound = stack.enter_context(soundfile.SoundFile(path))
    except (soundfile.SoundFileError, TypeError, ValueError):  # the latter two: headerless formats
        return None
    # libsndfile takes the extensible float kind of W64 for 32-bit integers.
    return None if (sound.format, sound.subtype) == ("W64", "PCM_32") else sound


def _check_shape(path: Path, channels: int, rate_hz: int) -> None:
    if channels > MOST_CHANNELS:
        raise LoadError(
            f"“{path.name}” has {channels} channels, and only mono and stereo are judged; bounce it again as one interleaved "
            "stereo file (the main output, not the single tracks or a surround bus)."
        )
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise LoadError(
            f"“{path.name}” has a sampling rate of {rate_hz} Hz, outside the 8 to 192 kHz that can be measured; bounce it at the "
            "session's rate, for example 44100 or 48000 Hz."
        )


def _source(path: Path, sound: soundfile.SoundFile, cleaner: _Cleaner, stack: ExitStack, memory_bytes: int) -> tuple[Source, str]:
    """Return the sound, in memory or on disk, and libsndfile's complaint if it broke off."""
    complaint = ""
    if _size(sound) > memory_bytes and not _seeks(sound):
        sound, complaint = _decoded(path, sound, stack)
    if _size(sound) > memory_bytes:
        return FileSource(sound, cleaner), complaint
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
                    f"“{path.name}” could not be decoded ({error}), so there is nothing to measure; bounce or copy it again."
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
    target = _temporary(stack) / "decoded.w64"
    complaints: list[str] = []
    try:
        with (
            soundfile.SoundFile(sound.name) as fresh,  # the other one may be lost after a failed seek
            soundfile.SoundFile(target, "w", sound.samplerate, sound.channels, "FLOAT", format="W64") as copy,
        ):
            for piece in _pieces(path, fresh, complaints):
                copy.write(piece)
    except (OSError, soundfile.SoundFileError) as error:
        raise LoadError(
            f"“{path.name}” is long and needs {_size(sound) >> 20} MiB of temporary space, which could not be written ({error}); free "
            "some space in the temporary folder, or bounce to WAV."
        ) from None
    return stack.enter_context(soundfile.SoundFile(target)), "".join(complaints)


def _temporary(stack: ExitStack) -> Path:
    return Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="mixproof-")))


def _through_ffmpeg(path: Path, head: bytes, stack: ExitStack) -> tuple[soundfile.SoundFile, str, int | None, bool]:
    """Decode with ffmpeg to a temporary file; return it, the codec, its bits and whether it is lossy."""
    if not head.translate(None, TEXT_BYTES):  # also keeps playlists, which name other files, away from ffmpeg
        raise LoadError(f"“{path.name}” holds text, not sound, whatever its name says; bounce the song again as WAV.")
    ffmpeg = shutil.which("ffmpeg")
    if ffmpeg is None:
        raise LoadError(
            f"“{path.name}” is in a format that cannot be read here without ffmpeg; install ffmpeg, or bounce to WAV, AIFF or FLAC."
        )
    target = _temporary(stack) / "decoded.wav"
    # An absolute path cannot be taken for a protocol or an option.
    command = [
        ffmpeg, "-nostdin", "-v", "error", "-protocol_whitelist", "file,pipe", "-i", str(path), "-map", "0:a:0",
        "-c:a", "pcm_f32le", "-rf64", "auto", "-f", "wav", str(target),
    ]  # fmt: skip
    done = _run(path, command)
    if done.returncode != 0 or not target.exists():
        why = re.sub(rf"^(\[[^]]*\] *|{re.escape(str(path))}: )+|[ .]+$", "", (done.stderr.strip().splitlines() or ["no reason given"])[0])
        raise LoadError(
            f"“{path.name}” is in no format known here, and ffmpeg could not decode it ({why}); bounce it again as WAV, AIFF or FLAC."
        )
    codec, bits = _codec(path)
    lossy = not codec.startswith(LOSSLESS_CODECS)
    return stack.enter_context(soundfile.SoundFile(target)), codec.upper(), None if lossy else bits, lossy


def _run(path: Path, command: list[str]) -> subprocess.CompletedProcess[str]:
    try:
        return subprocess.run(
            command, capture_output=True, text=True, errors="replace", timeout=FFMPEG_SECONDS, check=False, stdin=subprocess.DEVNULL
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise LoadError(f"“{path.name}” could not be decoded by ffmpeg ({error}); bounce the song again as WAV, AIFF or FLAC.") from None


def _codec(path: Path) -> tuple[str, int | None]:
    """Return what ffprobe says about the codec and its bits; the file's extension where there is no ffprobe."""
    ffprobe = shutil.which("ffprobe")
    plain = path.suffix.lstrip(".").lower() or "unknown"
    if ffprobe is None:
        return plain, None
    entries = "stream=codec_name,bits_per_raw_sample,bits_per_sample"
    command = [
        ffprobe, "-v", "error", "-protocol_whitelist", "file,pipe", "-select_streams", "a:0",
        "-show_entries", entries, "-of", "json", str(path),
    ]  # fmt: skip
    try:
        stream = json.loads(_run(path, command).stdout)["streams"][0]
        bits = int(stream.get("bits_per_raw_sample") or 0) or int(stream.get("bits_per_sample") or 0)
        return str(stream["codec_name"]), bits or None
    except (ValueError, KeyError, IndexError, TypeError):
        return plain, None


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
