"""What sound formats hold, and what headers promise.

Headers of WAV and AIFF.
The decoder quietly corrects a header to what is there, so a cut file would go unnoticed.
"""

import struct
from collections.abc import Collection, Mapping
from typing import BinaryIO

SOUND_ENDINGS = frozenset({
    ".wav", ".wave", ".bwf", ".rf64", ".w64", ".aif", ".aiff", ".aifc", ".flac", ".mp3", ".mp2", ".ogg", ".oga", ".opus", ".m4a", ".m4b",
    ".aac", ".wma", ".wv", ".ape", ".caf", ".au", ".snd", ".alac", ".tta",
})  # fmt: skip
EXACT_FORMATS = frozenset({"WAV", "WAVEX", "RF64", "W64", "AIFF", "AU", "CAF", "FLAC"})  # seeking lands on the sample
BITS = {
    "PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32, "FLOAT": 32, "DOUBLE": 64,
    "ALAC_16": 16, "ALAC_20": 20, "ALAC_24": 24, "ALAC_32": 32, "DWVW_12": 12, "DWVW_16": 16, "DWVW_24": 24,
    "DPCM_8": 8, "DPCM_16": 16,
}  # fmt: skip
LOSSLESS_CODECS = ("pcm_", "flac", "alac", "wavpack", "ape", "tta", "truehd", "mlp")
# What a name promises, in the words of both decoders. A decoder that recognises something else has guessed at noise.
_MOV, _OGG, _MPEG = frozenset({"mov", "mp4", "m4a"}), frozenset({"ogg"}), frozenset({"mp3", "mpeg"})
_WAV, _AIFF = frozenset({"wav", "wavex", "rf64", "w64"}), frozenset({"aiff"})
NAMED: Mapping[str, frozenset[str]] = {
    **dict.fromkeys((".wav", ".wave", ".bwf", ".rf64", ".w64"), _WAV),
    **dict.fromkeys((".aif", ".aiff", ".aifc"), _AIFF),
    **dict.fromkeys((".ogg", ".oga", ".opus"), _OGG),
    **dict.fromkeys((".m4a", ".mp4", ".m4b", ".alac"), _MOV),
    **dict.fromkeys((".mp3", ".mp2"), _MPEG),
    **dict.fromkeys((".mka", ".webm"), frozenset({"matroska", "webm"})),
    **dict.fromkeys((".au", ".snd"), frozenset({"au"})),
    ".flac": frozenset({"flac"}), ".caf": frozenset({"caf"}), ".aac": _MOV | {"aac"}, ".wma": frozenset({"asf"}),
    ".ape": frozenset({"ape"}), ".wv": frozenset({"wv"}), ".tta": frozenset({"tta"}),
}  # fmt: skip
USUAL = frozenset(
    {"wav", "wavex", "rf64", "w64", "aiff", "au", "caf", "flac", "ogg", "mp3", "mpeg"}
)  # recognised by a mark, not by likeness
PLACEHOLDERS = {0, 0x7FFFFFFF, 0xFFFFFFFF}  # sizes written by programs that did not know, or did not come to, the end


def contradicts(ending: str, kinds: Collection[str]) -> bool:
    """Say whether an ending promises something else.

    Something else than what a decoder takes the file for.

    >>> contradicts(".wav", ["amr"]), contradicts(".m4a", ["mov", "mp4"]), contradicts(".xyz", ["amr"])
    (True, False, False)
    """
    promised = NAMED.get(ending.lower())
    return promised is not None and promised.isdisjoint(kind.lower() for kind in kinds)


def promised_frames(raw: BinaryIO, frame_bytes: int) -> int | None:
    r"""Return how many frames an open file's header promises.

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
        chunk = _chunk(raw, b"data", "<")
        return None if chunk is None or chunk in PLACEHOLDERS else chunk // frame_bytes
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
