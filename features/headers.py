"""What WAV and AIFF headers promise; the decoder quietly corrects it to what is there, so a cut file would go unnoticed."""

import struct
from typing import BinaryIO

PLACEHOLDERS = {0, 0x7FFFFFFF, 0xFFFFFFFF}  # sizes written by programs that did not know, or did not come to, the end


def promised_frames(raw: BinaryIO, frame_bytes: int) -> int | None:
    r"""Return how many sample frames the header of an open file promises.

    Parameters
    ----------
    raw
        The file, at its start.
    frame_bytes
        Bytes per frame (all channels together); used for WAV, which states bytes only.

    Returns
    -------
    int or None
        ``None`` for any other format, for a placeholder, and when the header holds no such statement.

    Examples
    --------
    >>> from io import BytesIO
    >>> promised_frames(BytesIO(b"RIFF\0\0\0\0WAVEdata" + struct.pack("<I", 400)), 4)
    100
    """
    start = raw.read(12)
    if len(start) < 12:
        return None
    if start[:4] == b"RIFF" and start[8:] == b"WAVE":
        found = _chunk(raw, b"data", "<")
        return None if found is None or found in PLACEHOLDERS else found // frame_bytes
    if start[:4] == b"FORM" and start[8:] in {b"AIFF", b"AIFC"} and _chunk(raw, b"COMM", ">") is not None:
        fields = raw.read(6)
        return struct.unpack(">HI", fields)[1] if len(fields) == 6 else None
    return None


def _chunk(raw: BinaryIO, wanted: bytes, order: str) -> int | None:
    """Move behind the header of the chunk named ``wanted`` and return its size."""
    while len(header := raw.read(8)) == 8:
        name, size = struct.unpack(f"{order}4sI", header)
        if name == wanted:
            return int(size)
        raw.seek(size + size % 2, 1)
    return None
