"""Putting songs on a shelf.

Files are found, known ones recognised by their content, the others measured, two at a time.

Each song is one transaction as soon as it is measured, so whoever stops the run, or kills it, loses only the songs under way.
"""

import os
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, Lock

from advisor.app.errors import RequestError
from advisor.app.memory import give_back
from advisor.app.paths import is_there, told
from advisor.app.progress import Progress
from advisor.app.stopping import at_leisure
from advisor.references import shelf as shelves
from advisor.references.measuring import UnfitError, content_hash, measure_song
from advisor.references.records import Reference, Song
from advisor.store.database import Database
from features.sound.opening.door import LoadError, as_text, name_of, ordinary_file

ENDINGS = frozenset(
    f".{ending}"
    for ending in (
        "wav", "wave", "w64", "rf64", "bwf", "aif", "aiff", "aifc", "flac", "ogg", "oga", "opus", "mp3", "mp2", "m4a", "mp4", "aac", "wma",
        "caf", "au", "snd", "ape", "wv", "mka", "webm",
    )
)  # fmt: skip
LISTEN_S = 0.2  # how often the end of a run may be asked for
AT_ONCE = 2  # threads: decoding and measuring leave Python's lock alone most of the time


class _StoppedError(Exception):
    """The run is being stopped.

    The song under way is dropped.
    """


@dataclass(slots=True)
class Added:
    """What came of it.

    Names of songs that are new, that were there already, and that were skipped, each with the reason.
    """

    new: list[str] = field(default_factory=list)
    there: list[str] = field(default_factory=list)
    skipped: list[tuple[str, str]] = field(default_factory=list)
    songs: list[Reference] = field(default_factory=list)
    stopped: bool = False
    left: int = 0


def sound_files(paths: list[Path]) -> list[Path]:
    """Return the sound files among paths and folders.

    Deeper folders too, sorted, and each file once.
    """
    files: dict[Path, None] = {}
    for path in paths:
        if not is_there(path):
            raise RequestError(f"There is no file or folder {told(path)}. Check the spelling; a name with spaces needs quotes.")
        chosen = sorted(_inside(path)) if path.is_dir() else [path]
        files.update(dict.fromkeys(file.absolute() for file in chosen))
    if not files:
        raise RequestError(f"There are no sound files in {', '.join(told(path) for path in paths[:5])}.")
    return list(files)


def _inside(folder: Path) -> Iterator[Path]:
    for room, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        yield from (Path(room) / name for name in files if Path(name).suffix.lower() in ENDINGS and not name.startswith("."))


class _Show:
    """Progress over many songs measured at once."""

    def __init__(self, progress: Progress, songs: int) -> None:
        self._progress, self._songs, self._done = progress, songs, 0.0
        self._parts: dict[Path, float] = {}
        self._lock = Lock()
        self.stop = Event()
        self.stopped = False

    def under_way(self, path: Path) -> Callable[[float], None]:
        """Return what reports the share of a song measured."""

        def advance(share: float) -> None:
            if self.stop.is_set():
                raise _StoppedError
            with self._lock:
                self._parts[path] = share
                self._tell()

        return advance

    def finished(self, path: Path) -> None:
        """Count one song as done."""
        with self._lock:
            self._parts.pop(path, None)
            self._done += 1
            self._progress.step(f"Measuring songs ({self._done:.0f} of {self._songs})")
            self._tell()

    def _tell(self) -> None:
        self._progress.advance((self._done + sum(self._parts.values())) / max(self._songs, 1))


@dataclass(frozen=True, slots=True)
class _Work:
    """One file as it was when it was read."""

    path: Path
    sha256: str
    song: Song | None
    state: tuple[int, int]


def add(database: Database, shelf: str | None, paths: list[Path], progress: Progress) -> Added:
    """Measure unknown songs, and put all on a shelf.

    With None they stand on no shelf and are only remembered.

    ``stopped`` is true after Ctrl-C: everything finished until then is kept.
    """
    files = sound_files(paths)
    added, show = Added(), _Show(progress, len(files))
    progress.step(f"Measuring songs (0 of {len(files)})")
    work = [path for path in files if not _known(database, shelf, path, added, show)]
    with ThreadPoolExecutor(AT_ONCE) as pool, at_leisure(show.stop.set):
        _measure_all(database, shelf, work, added, show, pool)
    added.stopped = show.stopped
    added.left = len(files) - len(added.new) - len(added.there) - len(added.skipped)
    added.songs.sort(key=lambda reference: reference.sha256)
    progress.step("")
    return added


def _known(database: Database, shelf: str | None, path: Path, added: Added, show: _Show) -> bool:
    """Deal at once with a file that is measured already, or with what is no file."""
    try:
        ordinary_file(path)
    except LoadError as error:
        added.skipped.append((name_of(path), str(error)))
        show.finished(path)
        return True
    sha256 = shelves.seen_hash(database, path)
    song = None if sha256 is None else shelves.known_song(database, sha256)
    if sha256 is None or song is None:
        return False
    _keep(database, shelf, _Work(path, sha256, None, _state(path)), song, added)
    show.finished(path)
    return True


def _state(path: Path) -> tuple[int, int]:
    state = path.stat()
    return state.st_size, state.st_mtime_ns


def _measure_all(database: Database, shelf: str | None, work: list[Path], added: Added, show: _Show, pool: ThreadPoolExecutor) -> None:
    """Hand out the songs, and keep each once measured.

    This thread alone touches the database.
    """
    known = shelves.known_hashes(database)
    waiting = list(reversed(work))
    running: dict[Future[_Work], Path] = {}
    try:
        while (waiting or running) and not show.stop.is_set():
            while waiting and len(running) < AT_ONCE:
                path = waiting.pop()
                running[pool.submit(_measure, path, known, show)] = path
            done, _ = wait(running, LISTEN_S, return_when=FIRST_COMPLETED)
            for future in sorted(done, key=lambda job: str(running[job])):
                path = running.pop(future)
                _take(database, shelf, path, future, added)
                show.finished(path)
                give_back()
    finally:
        show.stopped = show.stop.is_set()
        show.stop.set()


def _measure(path: Path, known: frozenset[str], show: _Show) -> _Work:
    state = _state(path)
    sha256 = content_hash(path)
    return _Work(path, sha256, None if sha256 in known else measure_song(path, show.under_way(path)), state)


def _take(database: Database, shelf: str | None, path: Path, future: Future[_Work], added: Added) -> None:
    """Keep one measured file, or say why not."""
    try:
        work = future.result()
    except _StoppedError:
        return
    except (LoadError, UnfitError, OSError) as error:
        added.skipped.append((name_of(path), str(error)))
        return
    except Exception as error:  # noqa: BLE001 - one song's crash must not end the run; it is named
        added.skipped.append((name_of(path), f"it could not be measured ({type(error).__name__}: {error})"))
        return
    song = work.song or shelves.known_song(database, work.sha256)
    if song is not None:
        _keep(database, shelf, work, song, added)


def _keep(database: Database, shelf: str | None, work: _Work, song: Song, added: Added) -> None:
    new = shelves.keep(database, work.path, work.sha256, work.song, shelf, work.state)
    (added.new if new else added.there).append(name_of(work.path))
    if all(reference.sha256 != work.sha256 for reference in added.songs):
        added.songs.append(Reference(work.sha256, name_of(work.path), as_text(str(work.path)), song))
