"""AAC through ffmpeg, where it is installed."""

import shutil
import tempfile
from collections.abc import Iterable, Iterator
from typing import BinaryIO

import numpy as np

from features.sound.opening.program import ProgramError, run
from features.sound.signal import BLOCK_FRAMES, Samples

SECONDS = 600.0
MOST_BYTES = 1 << 32
FLOAT_BYTES = 4


def encode(blocks: Iterable[Samples], coded: BinaryIO, kbps: float, rate_hz: int, channels: int) -> None:
    """Write the sound as AAC to ``coded``.

    Raises `ProgramError` where ffmpeg is missing or fails; OSError when there is no room.
    """
    with tempfile.TemporaryFile() as plain:
        for block in blocks:
            plain.write(np.ascontiguousarray(block.T, "<f4").tobytes())
        plain.seek(0)
        coded.seek(0)
        coded.truncate()
        _run([*_plain(rate_hz, channels), "-i", "pipe:0", "-c:a", "aac", "-b:a", f"{kbps:.0f}k", "-f", "adts", "pipe:1"], plain, coded)
        coded.flush()


def decoded(coded: BinaryIO, rate_hz: int, channels: int) -> Iterator[Samples]:
    """Yield what a decoder gives, in blocks.

    As float, so that nothing is cut off above full scale.
    """
    coded.seek(0)
    with tempfile.TemporaryFile() as plain:
        _run(["-f", "aac", "-i", "pipe:0", *_plain(rate_hz, channels), "pipe:1"], coded, plain)
        plain.seek(0)
        while piece := plain.read(BLOCK_FRAMES * channels * FLOAT_BYTES):
            yield np.ascontiguousarray(np.frombuffer(piece, "<f4").reshape(-1, channels).T)


def _plain(rate_hz: int, channels: int) -> list[str]:
    return ["-f", "f32le", "-ar", str(rate_hz), "-ac", str(channels)]


def _run(arguments: list[str], given: BinaryIO, output: BinaryIO) -> None:
    ffmpeg = shutil.which("ffmpeg")
    if ffmpeg is None:
        raise ProgramError("it is not installed")
    command = [ffmpeg, "-nostdin", "-v", "error", "-threads", "2", "-protocol_whitelist", "pipe", *arguments]
    done = run(command, output, seconds=SECONDS, most_bytes=MOST_BYTES, given=given)
    if done.status != 0:
        raise ProgramError(done.said.strip().partition("\n")[0] or "it gave no reason")
