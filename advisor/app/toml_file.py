"""Settings files: read once, bounded, and refused in one sentence."""

import stat
import tomllib
from pathlib import Path
from typing import Any

from advisor.app.errors import RequestError
from advisor.app.history_words import shown
from advisor.app.paths import told

MOST_BYTES = 1 << 20
LONGEST_REASON = 200
LONGEST_VALUE = 60


def value_words(value: object) -> str:
    """Return a setting's value as a sentence may repeat it."""
    try:
        return shown(repr(value), LONGEST_VALUE)
    except (ValueError, RecursionError):  # a number of thousands of digits, or lists in lists
        return "that"


def read_toml(path: Path) -> dict[str, Any] | None:
    """Return what a settings file says.

    With or without a byte-order mark; None where there is no file.

    Raises `RequestError` for one that cannot be read.
    """
    try:
        state = path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError) as error:
        raise _refused(path, getattr(error, "strerror", None) or str(error), "Change its permissions, or move the file away.") from None
    if not stat.S_ISREG(state.st_mode):
        raise _refused(path, "it is no ordinary file", "Put a text file in its place.")
    if state.st_size > MOST_BYTES:
        raise _refused(path, f"it has {state.st_size >> 20} MiB, and settings fit into one", "Move the file away.")
    try:
        with path.open("rb") as file:
            return tomllib.loads(file.read(MOST_BYTES + 1).decode("utf-8-sig"))
    except (OSError, ValueError) as error:  # the latter also for bytes that are no text, and numbers of thousands of digits
        raise _refused(path, str(error), "Mend that line, or move the file away.") from None
    except RecursionError:
        raise _refused(path, "its lists or tables lie too deep in one another", "Mend that line, or move the file away.") from None


def _refused(path: Path, reason: str, way_out: str) -> RequestError:
    return RequestError(f"The settings file {told(path)} cannot be read ({shown(reason, LONGEST_REASON)}). {way_out}")
