"""Writes folders: aside, synced, swapped in, mended afterwards.

A folder aside is locked by the run that makes it. One without a living owner is either complete, and then its files still go where they
belong, or it is removed.
"""

import json
import os
import re
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from advisor.app.stopping import uninterrupted

PREFIX = ".new-"
ASIDE = re.compile(r"\.new-[a-z0-9_]{8}")
NAME = re.compile(r"([a-z]+/)?[A-Za-z0-9][A-Za-z0-9._-]*")
READY, OLD = "ready.json", "old"
READY_BYTES = 1 << 20
STALE_S = 86400.0  # where a system has no locks, nothing is being made for a day


@dataclass(frozen=True, slots=True)
class Entry:
    """What the history holds of a folder's report."""

    project: str
    number: int
    sha256: str


HasEntry = Callable[[Entry], bool | None]  # None where the history cannot be asked


def nothing_recorded(_entry: Entry) -> bool:
    """Say that no history is known."""
    return False


@contextmanager
def aside(folder: Path, has_entry: HasEntry = nothing_recorded) -> Iterator[Path]:
    """Lend a place in ``folder`` for what is being made.

    It is gone afterwards, and so is a folder left empty; only what the history already holds waits for the next run.
    Raises OSError.
    """
    there = folder.exists()
    place: Path | None = None
    lock: int | None = None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        mend(folder, has_entry)
        place, lock = _make(folder)
        yield place
    finally:
        try:
            if place is not None and not _awaited(place, has_entry):
                shutil.rmtree(place, ignore_errors=True)
        finally:
            _unlock(lock)
        if not there:
            with suppress(OSError):
                folder.rmdir()  # only when nothing came of it


def prepare(place: Path, names: Sequence[str], entry: Entry | None = None) -> None:
    """Bring what was made to the disk, complete.

    ``names`` are swapped in their order. Raises OSError.
    """
    for name in names:
        _sync(place / name)
    text = json.dumps({"names": list(names), "entry": None if entry is None else asdict(entry)})
    (place / f"{READY}.part").write_text(text, encoding="utf-8")
    _sync(place / f"{READY}.part")
    os.replace(place / f"{READY}.part", place / READY)  # noqa: PTH105 - the name by which a test counts it
    _sync(place)


def swap(place: Path, folder: Path, names: Sequence[str], gone: Sequence[str] = ()) -> None:
    """Move the prepared ``names`` into the folder.

    All or none; what is ``gone`` is removed then.

    Old files stay where they are until new ones take their place. Raises OSError, with everything back as it was.
    """
    with uninterrupted(), _held(folder):
        _replace(place, folder, names)
        for name in gone:
            with suppress(OSError):
                (folder / name).unlink()
        _sync(folder)
        with suppress(OSError):
            (place / READY).unlink()


def _replace(place: Path, folder: Path, names: Sequence[str]) -> None:
    done: list[str] = []
    try:
        for name in names:
            target = folder / name
            _own_folder(target.parent)
            _own_folder((place / OLD / name).parent)
            _keep(target, place / OLD / name)
            os.replace(place / name, target)  # noqa: PTH105 - atomic on one file system
            done.append(name)
    except BaseException:
        for name in reversed(done):
            with suppress(OSError):  # one that cannot go back must not keep the others
                _back(place, folder, name)
        raise


def _own_folder(path: Path) -> None:
    """Make a folder where there is none; a link is somebody else's place. Raises OSError."""
    path.mkdir(parents=True, exist_ok=True)
    if path.name in {"audition", OLD} and path.is_symlink():
        raise NotADirectoryError(f"{path.name} is a link to another place")


def _keep(target: Path, kept: Path) -> None:
    """Keep what stands in a file's place, without taking it away."""
    if not os.path.lexists(target):
        return
    if target.is_dir() and not target.is_symlink():
        raise IsADirectoryError(f"{target.name} is a folder")
    kept.unlink(missing_ok=True)  # of an attempt that failed
    try:
        os.link(target, kept, follow_symlinks=False)
    except (OSError, NotImplementedError):  # not every file system has second names
        shutil.copy2(target, kept, follow_symlinks=False)


def _back(place: Path, folder: Path, name: str) -> None:
    os.replace(folder / name, place / name)  # noqa: PTH105
    if os.path.lexists(place / OLD / name):
        os.replace(place / OLD / name, folder / name)  # noqa: PTH105


def mend(folder: Path, has_entry: HasEntry = nothing_recorded) -> None:
    """Finish or remove what runs that ended early left."""
    for place in sorted(folder.iterdir()):
        if not ASIDE.fullmatch(place.name) or place.is_symlink() or not place.is_dir():
            continue
        with suppress(OSError):
            lock = _lock(place)
            if lock is None and time.time() - place.stat().st_mtime < STALE_S:
                continue
            try:
                _finish(place, folder, has_entry)
            finally:
                _unlock(lock)


def _finish(place: Path, folder: Path, has_entry: HasEntry) -> None:
    names, entry = _stated(place)
    wanted = bool(names) if entry is None else has_entry(entry)
    if wanted is None:
        return
    if wanted:
        with uninterrupted(), _held(folder):
            _replace(place, folder, [name for name in names if (place / name).is_file()])
            _sync(folder)
    shutil.rmtree(place, ignore_errors=True)


def _awaited(place: Path, has_entry: HasEntry) -> bool:
    """Whether the history already holds, or may hold, what could not be swapped in."""
    if not os.path.lexists(place / READY):
        return False
    names, entry = _stated(place)
    return not names or (entry is not None and has_entry(entry) is not False)


def _stated(place: Path) -> tuple[list[str], Entry | None]:
    """Return the names that are complete, and what the history holds of them; nothing where that is not said or not by us."""
    path = place / READY
    try:
        if path.is_symlink() or not path.is_file() or path.stat().st_size > READY_BYTES:
            return [], None
        stated = json.loads(path.read_text(encoding="utf-8"))
        names, entry = [str(name) for name in stated["names"]], stated["entry"]
        if not all(NAME.fullmatch(name) and ".." not in name for name in names):
            return [], None
        return names, None if entry is None else Entry(str(entry["project"]), int(entry["number"]), str(entry["sha256"]))
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return [], None


def _make(folder: Path) -> tuple[Path, int | None]:
    """Make a place and lock it; another run that mends may have taken it before it was locked."""
    while True:
        place = Path(tempfile.mkdtemp(prefix=PREFIX, dir=folder))
        try:
            lock = _lock(place)
        except FileNotFoundError:
            continue
        except OSError:
            place.rmdir()
            raise
        if place.is_dir():
            return place, lock
        _unlock(lock)


def _lock(path: Path, *, wait: bool = False) -> int | None:
    """Lock a folder and return what unlocks it; None where the system has no such locks. Raises OSError when another run has it."""
    try:
        import fcntl  # noqa: PLC0415 - not on every system
    except ImportError:
        return None
    number = os.open(path, os.O_RDONLY)
    try:
        fcntl.flock(number, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except BaseException as error:
        os.close(number)
        if isinstance(error, OSError) and not isinstance(error, BlockingIOError):
            return None
        raise
    return number


def _unlock(number: int | None) -> None:
    if number is not None:
        os.close(number)


@contextmanager
def _held(folder: Path) -> Iterator[None]:
    """Keep other runs from swapping in the same folder at the same time."""
    lock = _lock(folder, wait=True)
    try:
        yield
    finally:
        _unlock(lock)


def _sync(path: Path) -> None:
    """Bring a file, or a folder's list of names, to the disk."""
    if path.is_dir() and os.name == "nt":
        return  # its folders cannot be opened
    number = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(number)
    finally:
        os.close(number)
