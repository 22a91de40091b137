"""Shelves in the database.

Named sets of measured songs. A song is kept by the hash of its bytes, so it may be moved and renamed.
"""

import os
import sqlite3
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.app.history_words import shown
from advisor.references.records import MEASURED_BY, Reference, Song, from_json, to_json
from advisor.store.database import Database
from features.sound.opening.door import as_text, name_of

LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class Shelf:
    """A shelf's songs in the order of their hashes.

    Neither renaming nor the order of adding changes it.

    ``to_measure`` are names of songs whose numbers an earlier version wrote, or that cannot be read any more.
    """

    name: str
    songs: tuple[Reference, ...]
    to_measure: tuple[str, ...]
    model: str | None


def check_name(name: str) -> str:
    """Return the name without spaces around it, or refuse it."""
    clean = name.strip()
    if not clean or len(clean) > LONGEST_NAME or not clean.isprintable() or set(clean) & set(':/\\"'):
        raise RequestError(
            f"A shelf cannot be called '{shown(name, LONGEST_NAME)}': a name has 1 to {LONGEST_NAME} characters and none of : / \\ \". "
            "Try for example 'techno'."
        )
    return clean


def counts(database: Database) -> list[tuple[str, int]]:
    """Return every shelf's name and number of songs."""
    with database.reading() as read:
        rows = read.execute(
            "SELECT shelves.name, count(sha256) FROM shelves LEFT JOIN shelf_songs ON shelf = id GROUP BY id ORDER BY shelves.name"
        ).fetchall()
    return [(name, songs) for name, songs in rows if isinstance(name, str)]


def load(database: Database, name: str) -> Shelf:
    """Return a shelf with its songs, or refuse.

    The refusal names the nearest shelf.
    """
    with database.reading() as read:
        number, known, model = _find(read, name)
        rows = read.execute(
            "SELECT shelf_songs.sha256, name, path, measured FROM shelf_songs "
            "LEFT JOIN songs ON songs.sha256 = shelf_songs.sha256 AND measured_by = ? WHERE shelf = ? ORDER BY shelf_songs.sha256",
            (MEASURED_BY, number),
        ).fetchall()
    there = [(str(sha256), str(title), str(path), from_json(measured)) for sha256, title, path, measured in rows]
    songs = tuple(Reference(sha256, title, path, song) for sha256, title, path, song in there if song is not None)
    return Shelf(known, songs, tuple(title for _, title, _, song in there if song is None), model)


def _find(read: sqlite3.Connection, name: str) -> tuple[int, str, str | None]:
    row: tuple[int, str, str | None] | None = read.execute("SELECT id, name, model FROM shelves WHERE name = ?", (name.strip(),)).fetchone()
    if row is None:
        names = [row[0] for row in read.execute("SELECT name FROM shelves ORDER BY name") if isinstance(row[0], str)]
        raise RequestError(f"There is no shelf called '{shown(name, LONGEST_NAME)}'.{_hint(name, names)}")
    return row


def _hint(name: str, names: list[str]) -> str:
    if not names:
        return " There are no shelves yet; `mixproof references add SHELF FILES` makes one."
    folded = {known.casefold(): known for known in names}
    near = get_close_matches(name.casefold(), list(folded), n=1, cutoff=0.5)
    if near:
        return f" Did you mean '{folded[near[0]]}'?"
    return f" There are: {', '.join(names)}. `mixproof references add` makes a new one."


def known_song(database: Database, sha256: str) -> Song | None:
    """Return the song with this content, if measured.

    As this version measures it.
    """
    with database.reading() as read:
        row = read.execute("SELECT measured FROM songs WHERE sha256 = ? AND measured_by = ?", (sha256, MEASURED_BY)).fetchone()
    return None if row is None else from_json(row[0])


def known_hashes(database: Database) -> frozenset[str]:
    """Return the hashes of all songs measured by this version."""
    with database.reading() as read:
        rows = read.execute("SELECT sha256, measured FROM songs WHERE measured_by = ?", (MEASURED_BY,)).fetchall()
    return frozenset(sha256 for sha256, measured in rows if from_json(measured) is not None)


def seen_hash(database: Database, path: Path) -> str | None:
    """Return the hash of a file that has not changed.

    By its size and time since it was last read.
    """
    state = path.stat()
    with database.reading() as read:
        row = read.execute(
            "SELECT sha256 FROM seen_files WHERE path = ? AND bytes = ? AND modified_ns = ?",
            (_key(path), state.st_size, state.st_mtime_ns),
        ).fetchone()
    return None if row is None else str(row[0])


def keep(database: Database, path: Path, sha256: str, song: Song | None, shelf: str | None, state: tuple[int, int]) -> bool:
    """Keep one song, in one transaction.

    Its numbers (None: already there), where it was seen, and its place on a shelf.

    ``state`` is the file's size and time before it was read. Return whether the song is new on the shelf.
    """
    with database.writing() as write:
        write.execute("INSERT OR REPLACE INTO seen_files VALUES (?, ?, ?, ?)", (_key(path), *state, sha256))
        if song is not None:
            write.execute("INSERT OR REPLACE INTO songs VALUES (?, ?, ?)", (sha256, MEASURED_BY, to_json(song)))
        if shelf is None:
            return False
        write.execute("INSERT OR IGNORE INTO shelves (name) VALUES (?)", (shelf,))
        number, _, _ = _find(write, shelf)
        new = write.execute("SELECT 1 FROM shelf_songs WHERE shelf = ? AND sha256 = ?", (number, sha256)).fetchone() is None
        write.execute("INSERT OR REPLACE INTO shelf_songs VALUES (?, ?, ?, ?)", (number, sha256, name_of(path), as_text(str(path))))
        return new


def _key(path: Path) -> str:
    """Return a path as text that no other path has, also where its bytes are none."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")


def keep_model(database: Database, shelf: str, model: str) -> None:
    """Keep the model of a shelf's groups."""
    with database.writing() as write:
        write.execute("UPDATE shelves SET model = ? WHERE name = ?", (model, shelf))


def find_song(shelf: Shelf, name: str) -> tuple[str, str]:
    """Return the song called ``name``, or refuse with the nearest.

    Its hash and name; ``name`` is a file name, with or without ending, or a path.
    """
    everything = [(reference.sha256, reference.name) for reference in shelf.songs]
    wanted = Path(name).name.casefold()
    matches = [entry for entry in everything if wanted in (entry[1].casefold(), Path(entry[1]).stem.casefold())]
    if len(matches) == 1:
        return matches[0]
    if matches:
        raise RequestError(
            f"{len(matches)} songs on the shelf '{shelf.name}' are called '{name}'. Rename one file, add it again, and retry."
        )
    names = {entry[1].casefold(): entry[1] for entry in everything}
    near = get_close_matches(wanted, list(names), n=1, cutoff=0.4)
    hint = f" Did you mean '{names[near[0]]}'?" if near else f" `mixproof references show {shelf.name}` lists them."
    raise RequestError(f"There is no song called '{shown(name, LONGEST_NAME)}' on the shelf '{shelf.name}'.{hint}")


def remove_song(database: Database, shelf: str, sha256: str) -> None:
    """Take one song off a shelf.

    Its numbers go with it unless another shelf has it.
    """
    with database.writing() as write:
        number, _, _ = _find(write, shelf)
        write.execute("DELETE FROM shelf_songs WHERE shelf = ? AND sha256 = ?", (number, sha256))
        _forget(write, [sha256])


def remove_shelf(database: Database, shelf: str) -> None:
    """Remove a shelf with everything that only it knows."""
    with database.writing() as write:
        number, _, _ = _find(write, shelf)
        hashes = [row[0] for row in write.execute("SELECT sha256 FROM shelf_songs WHERE shelf = ?", (number,))]
        write.execute("DELETE FROM shelves WHERE id = ?", (number,))
        _forget(write, hashes)


def _forget(write: sqlite3.Connection, hashes: list[str]) -> None:
    for sha256 in hashes:
        if write.execute("SELECT 1 FROM shelf_songs WHERE sha256 = ?", (sha256,)).fetchone() is None:
            write.execute("DELETE FROM songs WHERE sha256 = ?", (sha256,))
            write.execute("DELETE FROM seen_files WHERE sha256 = ?", (sha256,))
