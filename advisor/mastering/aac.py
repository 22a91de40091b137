"""AAC through ffmpeg, where it is installed."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import BinaryIO

import numpy as np

from features.sound.opening.program import ProgramError, run
from features.sound.signal import Samples

SECONDS = 600.0
MOST_BYTES = 1 << 32


class PlainFrames:
    """Takes frames for the encoder, as they come.

    Shape ``(frames, channels)``.
    """

    def __init__(self, plain: BinaryIO) -> None:
        """Take the file they are gathered in."""
        self._plain = plain

    def write(self, frames: Samples) -> None:
        """Take the next frames. Raises OSError."""
        self._plain.write(np.ascontiguousarray(frames, "<f4").tobytes())


@contextmanager
def writer(coded: BinaryIO, kbps: float, rate_hz: int, channels: int) -> Iterator[PlainFrames]:
    """Lend what takes frames, and encode them afterwards.

    They go to ``coded``; where ffmpeg fails, it stays without sound.

    Raises `ProgramError` where it is missing, and OSError when there is no room.
    """
    if shutil.which("ffmpeg") is None:
        raise ProgramError("it is not installed")
    with tempfile.TemporaryFile() as plain:
        yield PlainFrames(plain)
        plain.seek(0)
        shape = ["-f", "f32le", "-ar", str(rate_hz), "-ac", str(channels)]
        with suppress(ProgramError):
            _run([*shape, "-i", "pipe:0", "-c:a", "aac", "-b:a", f"{kbps:.0f}k", "-f", "adts", "pipe:1"], plain, coded)
        coded.flush()


@contextmanager
def decoded(coded: BinaryIO) -> Iterator[BinaryIO]:
    """Lend what a decoder gives, as AU.

    Of floats, so that nothing is cut off above full scale. Raises `ProgramError` and OSError.
    """
    coded.seek(0)
    with tempfile.TemporaryFile() as plain:
        _run(["-f", "aac", "-i", "pipe:0", "-c:a", "pcm_f32be", "-f", "au", "pipe:1"], coded, plain)
        plain.flush()
        yield plain


def _run(arguments: list[str], given: BinaryIO, output: BinaryIO) -> None:
    command = [shutil.which("ffmpeg") or "ffmpeg", "-nostdin", "-v", "error", "-threads", "2", "-protocol_whitelist", "pipe", *arguments]
    done = run(command, output, seconds=SECONDS, most_bytes=MOST_BYTES, given=given)
    if done.status != 0:
        raise ProgramError(done.said.strip().partition("\n")[0] or "it gave no reason")
