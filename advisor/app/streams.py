"""Keeps the process's own streams safe.

Never confused with the user's files, free of what decoders print, and harmless to a terminal.
"""

import io
import os
import sys
import unicodedata

LONGEST = 2000  # characters of one message
OVERRIDES = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")  # turn the direction of what follows
KEPT = frozenset("\n\t")


class OutputError(Exception):
    """Nothing more can be printed."""


def safe(text: str) -> str:
    r"""Return text that no terminal obeys.

    >>> safe("a\x1b[31mred\ttab\u202e")
    'a?[31mred\ttab?'
    """
    return "".join(char if char in KEPT or not _obeyed(char) else "?" for char in text)


def _obeyed(char: str) -> bool:
    return char in OVERRIDES or unicodedata.category(char) in {"Cc", "Cs"}


def message(text: str) -> str:
    """Return a message as it is shown.

    Safe, and without the middle of what is too long to be read.
    """
    if len(text) > LONGEST:
        text = f"{text[: LONGEST // 2]} … {text[-LONGEST // 4 :]}"
    return safe(text)


def own_streams() -> bool:
    """Take the standard streams for ourselves.

    Return whether there is one to print on.

    A closed one is opened to nothing, or the next file opened would take its number, and whoever prints there would write into it.
    What libraries print on stderr by themselves is dropped: only this program speaks to the user.
    """
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number, this one
    printable = sys.stdout is not None
    if sys.stdout is None:
        sys.stdout = io.TextIOWrapper(io.FileIO(1, "w", closefd=False), encoding="utf-8")
    own = os.dup(2)
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 2)
    os.close(nothing)
    encoding = "utf-8" if sys.stderr is None else sys.stderr.encoding
    sys.stderr = io.TextIOWrapper(io.FileIO(own, "w"), encoding=encoding, errors="backslashreplace", line_buffering=True)
    return printable


def say(text: str) -> None:
    """Write a message on stderr, where that takes any."""
    try:
        sys.stderr.write(f"{message(text)}\n")
        sys.stderr.flush()
    except (OSError, ValueError, AttributeError):
        _drop("stderr")


def write(text: str) -> None:
    """Print on stdout.

    Raises `OutputError` when it takes no more.
    """
    encoding = sys.stdout.encoding or "utf-8"
    try:
        sys.stdout.write(safe(text).encode(encoding, "replace").decode(encoding))
    except BrokenPipeError:
        raise
    except OSError as error:
        raise OutputError(error.strerror or str(error)) from error


def finish() -> None:
    """Hand over what was printed.

    Raises `OutputError` when it is not taken.
    """
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _drop("stdout")
        raise
    except OSError as error:
        _drop("stdout")
        raise OutputError(error.strerror or str(error)) from error


def _drop(name: str) -> None:
    """Let go of a stream that takes nothing, so that the interpreter does not try again at its end."""
    setattr(sys, name, io.StringIO())
