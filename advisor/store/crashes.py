"""Keeps what is known of a fault of our own.

One file, which the next fault replaces.
"""

import os
import platform
import sys
import traceback
from pathlib import Path

from advisor.store.home import home

FILE_NAME = "last-fault.txt"
MOST_CHARACTERS = 200_000


def keep_details(error: BaseException) -> Path:
    """Write what is known of an error.

    Into the user's data folder. Raises OSError where that cannot be written.
    """
    folder = home()
    folder.mkdir(parents=True, exist_ok=True)
    trace = "".join(traceback.format_exception(error))
    text = f"mixproof {_version()}, Python {platform.python_version()} on {platform.platform()}\n{sys.argv!r}\n\n{trace[-MOST_CHARACTERS:]}"
    path, new = folder / FILE_NAME, folder / f".{FILE_NAME}.{os.getpid()}"
    try:
        new.write_text(text, encoding="utf-8", errors="backslashreplace")
        new.replace(path)
    finally:
        new.unlink(missing_ok=True)
    return path


def _version() -> str:
    from importlib import metadata  # noqa: PLC0415 - only a fault needs it

    try:
        return metadata.version("mixproof")
    except metadata.PackageNotFoundError:
        return "(not installed)"
