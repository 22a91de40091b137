"""Takes files in.

They are streamed to the disk, capped, and kept under names of ours.
"""

import errno
import re
import unicodedata
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path

from starlette.exceptions import HTTPException

from advisor.app.errors import RequestError
from features.sound.opening.formats import SOUND_ENDINGS

GIB = 1 << 30
SETTINGS_FILE = "stems.toml"
LONGEST_STEM = 60  # characters, of up to four bytes
UNSAFE = re.compile(r"[^\w .()+&,'#-]+")  # what no system and no page stumbles over stays
RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)$")
TOO_LARGE, FULL = 413, 507


@dataclass(frozen=True, slots=True)
class Caps:
    """How much is taken in at most.

    ``stems`` is as many files as a critique can tell apart.
    """

    file_bytes: int = 2 * GIB
    run_bytes: int = 16 * GIB
    stems: int = 64


def kept_name(name: str) -> str:
    r"""Return the name that a file is kept under.

    Only its last part, without anything a system would obey. Raises `RequestError` for what is no sound file by its ending.

    >>> kept_name("../../etc/Été 1.WAV"), kept_name("C:\\mixes\\a<b>.flac"), kept_name("..wav")
    ('Été 1.wav', 'a-b-.flac', 'sound.wav')
    """
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", name))[-1]
    if last == SETTINGS_FILE:
        return last
    stem, dot, ending = last.rpartition(".")
    if not dot or f".{ending.lower()}" not in SOUND_ENDINGS:
        raise RequestError(f"“{last[:LONGEST_STEM]}” is no sound file by its name. Choose a WAV, AIFF, FLAC, OGG or MP3 file.")
    safe = UNSAFE.sub("-", stem).strip(" .")[:LONGEST_STEM].rstrip(" .")
    return f"{'sound' if not safe or RESERVED.match(safe) else safe}.{ending.lower()}"


def place_for(folder: Path, name: str, caps: Caps, *, several: bool) -> Path:
    """Return where a file of that name goes.

    A slot for one file holds one; the stems are counted, and two of one name are kept apart.
    """
    kept = kept_name(name)
    there = list(folder.iterdir()) if folder.is_dir() else []
    if not several:
        for old in there:
            old.unlink()
    elif len(there) >= caps.stems + 1:  # and stems.toml
        raise RequestError(f"At most {caps.stems} stems can be told apart. Put doubles and layers of a sound together in a file.")
    path, number = folder / kept, 1
    while several and kept != SETTINGS_FILE and path.exists():
        number += 1
        path = folder / f"{Path(kept).stem} {number}{Path(kept).suffix}"
    return path


def stored_bytes(folder: Path) -> int:
    """Return how many bytes lie in a folder."""
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


async def receive(chunks: AsyncIterator[bytes], declared: int | None, path: Path, room: int) -> None:
    """Write a stream into a file, or nothing.

    Raises `HTTPException` for more than ``room`` bytes, before anything is read where the sender says so, and for a full disk.
    """
    if declared is not None and declared > room:
        raise too_large(room)
    part = path.with_name(f".{path.name}.part")
    taken = 0
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            async for chunk in chunks:
                taken += len(chunk)
                if taken > room:
                    raise too_large(room)
                file.write(chunk)
        if declared is not None and taken != declared:
            raise HTTPException(400, "The file came in only in part. Send it again.")
        part.replace(path)
    except OSError as error:
        raise _no_room(error) from error
    finally:
        part.unlink(missing_ok=True)


def too_large(room: int) -> HTTPException:
    """Return the refusal of what is too large."""
    words = f"The file is larger than what may still come in ({room / GIB:.1f} GiB). Use `mixproof critique` on the command line for it."
    return HTTPException(TOO_LARGE, words)


def _no_room(error: OSError) -> HTTPException:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return HTTPException(FULL, "The disk is full; nothing was kept of this file. Free some space and send it again.")
    return HTTPException(500, f"The file could not be kept ({error.strerror or error}).")
