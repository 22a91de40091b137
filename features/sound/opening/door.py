"""Lets ordinary files in, and nothing else.

The one door for paths to sound.
"""

import difflib
import errno
import os
import stat
from pathlib import Path

EXHAUSTED = frozenset({errno.EMFILE, errno.ENFILE, errno.ENOMEM})  # the machine's fault, not the file's
PROBED_BYTES = 512


class LoadError(Exception):
    """Why a file cannot be read, in one plain sentence.

    It says what was seen, why it stops, and what to try.
    """


def as_text(name: str) -> str:
    r"""Return a name that can be kept and written.

    Bytes of it that are no text become question marks.

    >>> as_text("caf\udce9.wav")
    'caf?.wav'
    """
    return name.encode("utf-8", "replace").decode("utf-8")


def name_of(path: Path) -> str:
    """Return a file's name as text.

    The whole path where it has none, as that of the root.
    """
    return as_text(path.name or str(path))


def ordinary_file(path: Path) -> os.stat_result:
    """Return the state of an ordinary file.

    Raises
    ------
    LoadError
        When it is missing, a folder, a device or a pipe, or behind a folder that may not be entered.
    """
    name = name_of(path)
    try:
        state = path.stat()
    except PermissionError:
        raise LoadError(f"The folder of “{name}” may not be read by this user; change its permissions or copy the file.") from None
    except (OSError, ValueError, RuntimeError) as error:
        if getattr(error, "errno", None) == errno.ELOOP:
            raise LoadError(f"“{name}” is a link that leads back to itself, so there is no file behind it; give the file itself.") from None
        raise LoadError(_missing(path)) from None
    if stat.S_ISDIR(state.st_mode):
        raise LoadError(f"“{name}” is a folder, and one sound file is measured at a time; give the path of a file in it.")
    if not stat.S_ISREG(state.st_mode):
        raise LoadError(f"“{name}” is not an ordinary file, so it cannot be read twice; copy the sound to a file first.")
    return state


def unreadable(path: Path, error: OSError) -> Exception:
    """Return what to raise for an unreadable file.

    The machine's own trouble is passed on as it is.
    """
    if error.errno in EXHAUSTED:
        return error
    name = name_of(path)
    if isinstance(error, PermissionError):
        return LoadError(f"“{name}” may not be read by this user, so it stays closed; change its permissions or copy it.")
    return LoadError(f"“{name}” could not be read ({error.strerror or error}), so measuring stops; copy it to another disk and try again.")


def _missing(path: Path) -> str:
    folder, name = path.parent, name_of(path)
    try:
        if not folder.is_dir():
            return f"There is no folder “{as_text(str(folder))}”, so “{name}” cannot be opened; check the path."
        names = [file.name for file in folder.iterdir() if file.is_file()]
    except (OSError, ValueError):
        names = []
    by_lower = {as_text(there).lower(): as_text(there) for there in names}
    near = [by_lower[there] for there in difflib.get_close_matches(name.lower(), by_lower, n=3, cutoff=0.6)]
    hint = f"did you mean {' or '.join(f'“{there}”' for there in near)}?" if near else "check the name."
    return f"There is no file “{name}” in “{as_text(str(folder))}”, so there is nothing to measure; {hint}"
