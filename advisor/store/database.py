"""Opening the database.

Write-ahead log, foreign keys, the schema brought up to date, and plain words for whatever goes wrong.
Every change is one transaction, so a run that is killed leaves what was there. A file that is no database is moved aside under a
name that says so and never written over.
"""

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from time import sleep
from typing import Self

from advisor.app.errors import RequestError
from advisor.store.home import home
from advisor.store.migrations import STEPS

FILE_NAME = "mixproof.sqlite3"
WAIT_S = 60.0  # another run may be writing
SWITCH_TURNS = 1200  # of waiting for another run that makes the file
NOT_A_DATABASE = ("file is not a database", "malformed", "file is encrypted")
BESIDE = ("-wal", "-shm")


class _DamagedError(Exception):
    """The file is no readable database."""


class Database:
    """The open database. Use it in a ``with`` statement."""

    def __init__(self, connection: sqlite3.Connection, path: Path, set_aside: Path | None) -> None:
        """Take an open connection, its file, and a moved file.

        ``set_aside`` is where a damaged file was moved to, if there was any.
        """
        self._connection = connection
        self.path = path
        self.set_aside = set_aside

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Open one transaction.

        All of what is done in it is kept, or nothing.
        """
        with plain_words(self.path), _transaction(self._connection):
            yield self._connection

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Read one consistent state."""
        with plain_words(self.path):
            self._connection.execute("BEGIN")
            try:
                yield self._connection
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    def close(self) -> None:
        """Close it."""
        self._connection.close()

    def __enter__(self) -> Self:
        """Return itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close, also after an error."""
        self.close()


@contextmanager
def plain_words(path: Path) -> Iterator[None]:
    """Turn an SQLite error into one plain sentence.

    It says what was kept and what to do.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise RequestError(_sentence(path, str(error))) from error


def _sentence(path: Path, problem: str) -> str:
    reassurance = "what was kept before is whole"
    if "full" in problem:
        return f"Nothing more can be written to {path}: the disk is full; {reassurance}. Make room and run this again."
    if "readonly" in problem or "unable to open" in problem:
        return f"{path} cannot be written to ({problem}). Check the folder's permissions, or set MIXPROOF_HOME to another folder."
    if "locked" in problem:
        return f"{path} is being written to by another run for too long; {reassurance}. Try again when the other run is done."
    return f"{path} could not be used ({problem}); {reassurance}. Try again; if it stays, move the file away and start a new one."


def open_database(folder: Path | None = None, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> Database:
    """Open the user's database, its schema brought up to date.

    Parameters
    ----------
    folder
        Where it lies; default `advisor.store.home.home`. Made when missing.
    now
        The clock, for the name of a damaged file.

    Raises
    ------
    RequestError
        When the folder cannot be used, or the file was written by a newer version.
    """
    folder = home() if folder is None else folder
    path = folder / FILE_NAME
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RequestError(
            f"The folder {folder} cannot be made ({error.strerror or error}). Set MIXPROOF_HOME to another folder."
        ) from error
    with plain_words(path):
        try:
            return Database(_connect(path), path, None)
        except _DamagedError:
            moved = _move_aside(path, now())
            return Database(_connect(path), path, moved)


def _connect(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)
    connection.text_factory = lambda raw: raw.decode("utf-8", "replace")  # one damaged text costs its row, not the file
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        _keep_log(connection)
        connection.execute("PRAGMA synchronous = FULL")
        _migrate(connection, path)
    except sqlite3.DatabaseError as error:
        connection.close()
        if any(words in str(error) for words in NOT_A_DATABASE):
            raise _DamagedError from error
        raise
    except BaseException:
        connection.close()
        raise
    return connection


def _keep_log(connection: sqlite3.Connection) -> None:
    """Switch to a write-ahead log, also while another run does.

    Of two runs that switch a new file at once, SQLite refuses one without waiting, since each might wait for the other.
    """
    for turns_left in reversed(range(SWITCH_TURNS)):
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or not turns_left:
                raise
            sleep(WAIT_S / SWITCH_TURNS)
        else:
            return


def _version(connection: sqlite3.Connection) -> int:
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    return version


@contextmanager
def _transaction(connection: sqlite3.Connection) -> Iterator[None]:
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def _migrate(connection: sqlite3.Connection, path: Path) -> None:
    """Run the schema steps that are missing.

    All in one transaction: two runs that start at once do it one after the other.
    """
    if _version(connection) == len(STEPS):
        return
    with _transaction(connection):
        version = _version(connection)
        if version > len(STEPS):
            _refuse_newer(path)
        for step in STEPS[version:]:
            for statement in step.split(";"):
                if statement.strip():
                    connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {len(STEPS)}")


def _refuse_newer(path: Path) -> None:
    message = f"A newer mixproof has written {path}. Bring mixproof up to date, or set MIXPROOF_HOME to another folder."
    raise RequestError(message)


def _move_aside(path: Path, when: datetime) -> Path:
    """Rename a damaged database, and its logs, to free names."""
    stamp = when.strftime("%Y-%m-%d-%H%M%S")
    moved = path.with_name(f"{path.name}.damaged-{stamp}")
    number = 1
    while moved.exists():
        number += 1
        moved = path.with_name(f"{path.name}.damaged-{stamp}-{number}")
    for ending in ("", *BESIDE):
        old = path.with_name(path.name + ending)
        if old.exists():
            os.rename(old, moved.with_name(moved.name + ending))  # noqa: PTH104 - must fail rather than replace where the system can
    return moved
