"""What a program that writes to its database leaves behind when it is killed: a copy of the files at every statement."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

import pytest

from advisor.store.database import FILE_NAME, Database

LOG = f"{FILE_NAME}-wal"
CUTS = 9  # places where the log is cut, as by a kill in the middle of writing it


class Crashes:
    """Copies of a database's files, each as a kill at that moment would leave them."""

    def __init__(self, place: Path) -> None:
        """Keep the copies in folders under ``place``."""
        self._place = place
        self.unfinished: list[Path] = []
        self.finishing: list[Path] = []

    def watch(self, opened: Database) -> Database:
        """Copy the files before each statement of a connection, which writes them as early as it may."""
        opened._connection.execute("PRAGMA cache_size = 1")  # changed pages leave for the log at once, not at the end
        opened._connection.set_trace_callback(lambda _statement: self.unfinished.append(self._copy(opened.path.parent)))
        return opened

    def cut_log(self, opened: Database) -> None:
        """Copy the files with the log cut at several places: what a kill while it is written leaves."""
        whole = (opened.path.parent / LOG).stat().st_size
        for number in range(CUTS):
            copy = self._copy(opened.path.parent)
            with (copy / LOG).open("r+b") as log:
                log.truncate(whole * number // (CUTS - 1))
            self.finishing.append(copy)

    def _copy(self, home: Path) -> Path:
        copy = self._place / f"{len(self.unfinished) + len(self.finishing):04d}"
        copy.mkdir(parents=True)
        for name in (FILE_NAME, LOG):
            if (home / name).exists():
                shutil.copy(home / name, copy / name)
        return copy


@contextmanager
def crashing(place: Path, *modules: ModuleType) -> Iterator[Crashes]:
    """Watch every database that a module opens, from here to the end."""
    crashes = Crashes(place)
    close = Database.close

    def close_with_cuts(opened: Database) -> None:
        crashes.cut_log(opened)
        close(opened)

    with pytest.MonkeyPatch.context() as patched:
        for module in modules:
            really = module.open_database
            patched.setattr(module, "open_database", lambda *given, really=really: crashes.watch(really(*given)))
        patched.setattr(Database, "close", close_with_cuts)
        yield crashes
