"""Follows paths as a user gives them, or refuses."""

import errno
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.app.history_words import shown

LONGEST_NAME_BYTES = 255  # of one name, on all usual file systems
LONGEST_SHOWN = 200


def told(path: Path | str) -> str:
    """Return a path as a sentence may name it."""
    return shown(str(path).encode("utf-8", "replace").decode("utf-8"), LONGEST_SHOWN)


def followed(path: Path, start: Path | None = None) -> Path:
    """Return where a path leads.

    `~` and links are followed, relative ones from ``start``.

    Raises `RequestError` where it leads nowhere: an unknown user, links in a circle, a character that no path has.
    """
    try:
        whole = path.expanduser()
        return (whole if start is None else start / whole).resolve()
    except (OSError, RuntimeError, ValueError) as error:
        reason = "its links lead back to themselves" if _circles(error) else str(error).rstrip(".")
        raise RequestError(f"The path “{told(path)}” leads nowhere ({reason}). Give the path of a folder or file that is there.") from None


def _circles(error: Exception) -> bool:
    return getattr(error, "errno", None) == errno.ELOOP or "loop" in str(error).lower()


def is_there(path: Path) -> bool:
    """Whether something is at a path.

    What may not be looked at counts as not there.
    """
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def beside(path: Path, ending: str) -> Path:
    """Return the path with an ending to its name.

    The name is cut where it would be too long.
    """
    name = path.name
    while len((name + ending).encode("utf-8", "surrogateescape")) > LONGEST_NAME_BYTES:
        name = name[:-1]
    return path.with_name(name + ending)
