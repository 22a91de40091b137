"""Decodes through ffmpeg what libsndfile does not know."""

import json
import re
import shutil
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

from features.sound.opening.door import LoadError, as_text, name_of
from features.sound.opening.formats import LOSSLESS_CODECS, contradicts
from features.sound.opening.program import ProgramError, run

DECODE_SECONDS, PROBE_SECONDS = 900.0, 60.0
DECODED_BYTES, PROBED_BYTES = 16 << 30, 1 << 16
LEAST_SCORE = 50  # of 100: how sure it must be of what it takes a file for
TEXT_BYTES = bytes(range(32, 127)) + b"\t\n\r\f\b"


@dataclass(frozen=True, slots=True)
class Coding:
    """How the sound was packed.

    The codec, its bits where it has any, and whether it is lossy.
    """

    codec: str
    bits: int | None
    lossy: bool


def decode(path: Path, head: bytes, target: BinaryIO) -> Coding:
    """Write the sound to ``target`` as AU.

    The length of AU need not be known beforehand.

    ``head`` are the file's first bytes. Raises `LoadError`; OSError when ``target`` takes no more.
    """
    name = name_of(path)
    if not head.translate(None, TEXT_BYTES):  # also keeps playlists, which name other files, away from ffmpeg
        raise LoadError(f"“{name}” holds text, not sound, whatever its name says; bounce the song again as WAV.")
    ffmpeg = shutil.which("ffmpeg")
    if ffmpeg is None:
        raise LoadError(f"“{name}” is in a format that cannot be read here without ffmpeg; install ffmpeg, or bounce to WAV, AIFF or FLAC.")
    codec, bits = _probed(path)
    # An absolute path cannot be taken for a protocol or an option.
    command = [
        ffmpeg, "-nostdin", "-v", "error", "-threads", "2", "-protocol_whitelist", "file,pipe", "-i", str(path), "-map", "0:a:0",
        "-c:a", "pcm_f32be", "-f", "au", "pipe:1",
    ]  # fmt: skip
    try:
        done = run(command, target, seconds=DECODE_SECONDS, most_bytes=DECODED_BYTES)
    except ProgramError as error:
        raise undecoded(path, str(error)) from None
    if done.status != 0:
        raise undecoded(path, _first_line(path, done.said))
    lossy = not codec.startswith(LOSSLESS_CODECS)
    return Coding(codec.upper(), None if lossy else bits, lossy)


def undecoded(path: Path, why: str) -> LoadError:
    """Return the error for an undecodable file."""
    return LoadError(
        f"“{name_of(path)}” is in no format known here, and ffmpeg could not decode it ({why}); bounce it again as WAV, AIFF or FLAC."
    )


def _first_line(path: Path, said: str) -> str:
    """Return the first complaint without what stands in front of it."""
    first = as_text((said.strip().splitlines() or ["no reason given"])[0])
    return re.sub(rf"^(\[[^]]*\] *|Error opening input[^:]*: |{re.escape(as_text(str(path)))}: )+|[ .]+$", "", first)


def _probed(path: Path) -> tuple[str, int | None]:
    """Return what ffprobe says about the codec and its bits; the file's extension where there is no ffprobe.

    Noise looks a little like some format or other: what ffprobe is not sure of, or takes for something else than its name says, is refused.
    """
    ffprobe = shutil.which("ffprobe")
    plain = as_text(path.suffix.lstrip(".").lower()) or "unknown"
    if ffprobe is None:
        return plain, None
    entries = "format=format_name,probe_score:stream=codec_name,bits_per_raw_sample,bits_per_sample"
    command = [
        ffprobe, "-v", "error", "-protocol_whitelist", "file,pipe", "-select_streams", "a:0",
        "-show_entries", entries, "-of", "json", str(path),
    ]  # fmt: skip
    printed = BytesIO()
    try:
        run(command, printed, seconds=PROBE_SECONDS, most_bytes=PROBED_BYTES)
        stated = json.loads(printed.getvalue())
        kinds, score, stream = str(stated["format"]["format_name"]).split(","), int(stated["format"]["probe_score"]), stated["streams"][0]
        bits = int(stream.get("bits_per_raw_sample") or 0) or int(stream.get("bits_per_sample") or 0)
        codec = str(stream["codec_name"])
    except (ProgramError, ValueError, KeyError, IndexError, TypeError, AttributeError, RecursionError):
        return plain, None  # ffmpeg has the last word
    if score < LEAST_SCORE or contradicts(path.suffix, kinds):
        raise LoadError(
            f"“{name_of(path)}” holds nothing that its name promises (at most something like {as_text(kinds[0])}), so it is damaged or "
            "misnamed; bounce it again as WAV, AIFF or FLAC, or give it its own ending."
        )
    return codec, bits or None
