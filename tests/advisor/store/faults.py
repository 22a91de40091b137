"""Faults at file operations, one at a time: an error, a full disk, or a kill, at every operation in turn.

A kill is an exception after which no operation does anything any more: what is on the disk then is what a killed process leaves.
"""

import errno
import io
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

import pytest

Kind = Literal["error", "full disk", "kill"]
KINDS: tuple[Kind, ...] = ("error", "full disk", "kill")
OPERATIONS = ("replace", "rename", "link", "unlink", "mkdir", "rmdir", "fsync", "open", "scandir", "listdir")
MAKING = frozenset({"replace", "rename", "link", "mkdir", "fsync", "write", "open to write", "sql"})


class KilledError(BaseException):
    """The process is gone."""


class Faults:
    """Counts file operations, and lets one fail."""

    def __init__(self, kind: Kind, at: int) -> None:
        """Take the kind of fault, and the number of the operation where it strikes; below zero none does."""
        self.count = 0
        self.struck: str | None = None
        self._kind, self._at = kind, at

    def strike(self, name: str) -> None:
        """Count one operation, and fail when it is its turn."""
        self.count += 1
        if self._at < 0 or self.count <= self._at:
            return
        if self._kind == "kill":
            self.struck = self.struck or name
            raise KilledError
        if self._kind == "error" and self.count == self._at + 1:
            self.struck = name
            raise _error(name, errno.EIO)
        if self._kind == "full disk" and name in MAKING:
            self.struck = self.struck or name
            raise _error(name, errno.ENOSPC)


def _error(name: str, number: int) -> Exception:
    if name == "sql":
        return sqlite3.OperationalError("database or disk is full" if number == errno.ENOSPC else "disk I/O error")
    return OSError(number, os.strerror(number))


@contextmanager
def faults(kind: Kind, at: int) -> Iterator[Faults]:
    """Put the shim between the program and its files."""
    shim = Faults(kind, at)

    def counted(name: str, really: Callable[..., Any]) -> Callable[..., Any]:
        def call(*given: Any, **named: Any) -> Any:  # noqa: ANN401
            shim.strike(name)
            return really(*given, **named)

        return call

    def opened(file: Any, mode: str = "r", *given: Any, **named: Any) -> Any:  # noqa: ANN401
        shim.strike("open" if mode.strip("bt") == "r" else "open to write")
        return open_file(file, mode, *given, **named)

    def written(path: Path, text: str, *given: Any, **named: Any) -> int:  # noqa: ANN401
        try:
            shim.strike("write")
        except BaseException:
            write_text(path, text[: len(text) // 2], *given, **named)  # as much as there was room, or time, for
            raise
        return write_text(path, text, *given, **named)

    class Connection(sqlite3.Connection):
        def execute(self, statement: str, *given: Any) -> sqlite3.Cursor:  # noqa: ANN401
            shim.strike("sql")
            return super().execute(statement.replace("synchronous = FULL", "synchronous = OFF"), *given)

    open_file, write_text, connect = io.open, Path.write_text, sqlite3.connect
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(os, "fsync", lambda _number: None)  # counted below; the disk itself is not what is tested
        for name in OPERATIONS:
            patched.setattr(os, name, counted(name, getattr(os, name)))
        patched.setattr(io, "open", opened)
        patched.setattr(Path, "write_text", written)
        patched.setattr(sqlite3, "connect", lambda *given, **named: connect(*given, factory=Connection, **named))
        yield shim
