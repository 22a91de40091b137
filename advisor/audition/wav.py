"""A small WAV writer of our own.

Sound in blocks, then markers (`cue `) with labels and lengths (`LIST` of kind `adtl`).

Chunks as in the RIFF specification of 1991 (Multimedia Programming Interface and Data Specifications 1.0): little-endian,
each with its size without header and padding, each padded to an even length. Markers follow the sound, so that a program
which knows none of them still finds the sound where it always is.
"""

import struct
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from features.sound.signal import Samples

Whole = NDArray[np.int32]

MOST_BYTES = 0xFFFFFFFF  # what a RIFF size can say, its own eight bytes not counted
PCM, FLOAT = 1, 3
FLOAT_BITS = 32


@dataclass(frozen=True, slots=True)
class Cue:
    """A marker in a sound file.

    The frame it stands at, what it says, and how many frames it lasts (0 for a point).
    """

    frame: int
    label: str
    frames: int = 0


@dataclass(frozen=True, slots=True)
class Shape:
    """What the sound is written as.

    16 and 24 bits are whole numbers, 32 is float.
    """

    rate_hz: int
    channels: int
    bits: int

    @property
    def frame_bytes(self) -> int:
        """Bytes of one frame."""
        return self.channels * self.bits // 8


def size(shape: Shape, frames: int, cues: Sequence[Cue]) -> int:
    """Return the size that the file's RIFF header holds.

    It is the file's length less eight bytes.
    """
    return len(_head(shape, frames, 0)) - 8 + _even(frames * shape.frame_bytes) + len(cue_chunks(cues))


def write(path: Path, shape: Shape, blocks: Iterable[Samples], cues: Sequence[Cue] = ()) -> None:
    """Write planar blocks and their markers.

    Memory does not grow with the length. Raises OSError.
    """
    frames = 0
    with path.open("wb") as raw:
        raw.write(_head(shape, 0, 0))
        for block in blocks:
            raw.write(encoded(block, shape.bits))
            frames += block.shape[1]
        if frames * shape.frame_bytes % 2:
            raw.write(b"\0")
        raw.write(cue_chunks(cues))
        _finish(raw, shape, frames, size(shape, frames, cues))


def _finish(raw: BinaryIO, shape: Shape, frames: int, total: int) -> None:
    raw.seek(0)
    raw.write(_head(shape, frames, total))


def encoded(block: Samples, bits: int) -> bytes:
    """Return planar samples as the bytes of a WAV file.

    Whole numbers are rounded; nothing passes full scale, which would harm ears.
    """
    if bits == FLOAT_BITS:
        return np.clip(block, -1.0, 1.0).T.astype("<f4").tobytes()
    whole = quantised(block, bits).T
    if bits == 16:
        return whole.astype("<i2").tobytes()
    four = np.ascontiguousarray(whole, "<i4").view(np.uint8).reshape(-1, 4)
    return four[:, :3].tobytes()


def quantised(samples: Samples, bits: int) -> Whole:
    """Return samples as whole numbers of ``bits``.

    At most 24, which float32 holds exactly.
    """
    top = np.float32(1 << (bits - 1))
    whole: Whole = np.clip(np.rint(samples * top), -top, top - 1).astype(np.int32)
    return whole


def single(whole: Whole, bits: int) -> Samples:
    """Return whole numbers of ``bits`` as samples.

    The exact inverse of `quantised`.
    """
    return whole.astype(np.float32) * np.float32(1.0 / (1 << (bits - 1)))


def _head(shape: Shape, frames: int, total: int) -> bytes:
    kind, extra = (FLOAT, b"\0\0") if shape.bits == FLOAT_BITS else (PCM, b"")
    rate, width = shape.rate_hz, shape.frame_bytes
    form = struct.pack("<HHIIHH", kind, shape.channels, rate, rate * width, width, shape.bits) + extra
    fact = chunk(b"fact", struct.pack("<I", frames)) if kind == FLOAT else b""
    return struct.pack("<4sI4s", b"RIFF", total, b"WAVE") + chunk(b"fmt ", form) + fact + struct.pack("<4sI", b"data", frames * width)


def chunk(name: bytes, content: bytes) -> bytes:
    """Return a chunk of a RIFF file.

    Name, size, content, and a zero where the content is of odd length.
    """
    return struct.pack("<4sI", name, len(content)) + content + b"\0" * (len(content) % 2)


def cue_chunks(cues: Sequence[Cue]) -> bytes:
    """Return both chunks for the markers in the order given.

    Nothing for none.

    All labels come before the first length: some readers stop at the first thing in the list that they do not know.
    """
    if not cues:
        return b""
    numbered = list(enumerate(cues, 1))
    points = [struct.pack("<II4sIII", number, cue.frame, b"data", 0, 0, cue.frame) for number, cue in numbered]
    labels = [chunk(b"labl", struct.pack("<I", number) + cue.label.encode("ascii", "replace") + b"\0") for number, cue in numbered]
    lengths = [chunk(b"ltxt", struct.pack("<II4sHHHH", number, cue.frames, b"rgn ", 0, 0, 0, 0)) for number, cue in numbered if cue.frames]
    return chunk(b"cue ", struct.pack("<I", len(cues)) + b"".join(points)) + chunk(b"LIST", b"adtl" + b"".join(labels + lengths))


def _even(count: int) -> int:
    return count + count % 2
