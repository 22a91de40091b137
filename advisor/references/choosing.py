"""From what is written after `--references` to the songs.

A shelf, one group of a shelf, or a folder.
"""

from dataclasses import dataclass
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.app.paths import told
from advisor.app.progress import Progress
from advisor.references import shelf as shelves
from advisor.references.adding import add
from advisor.references.grouping import Model, from_json, groups_of, make_model, pick, to_json
from advisor.references.records import Reference
from advisor.store.database import Database, open_database
from features.sound.opening.door import name_of


@dataclass(frozen=True, slots=True)
class Chosen:
    """The songs that a mix is compared with.

    ``shelf`` is the shelf's name, None for a folder; ``group`` the number of a pinned group; ``notes`` what the reader should know.
    """

    shelf: str | None
    folder: str | None
    songs: tuple[Reference, ...]
    model: Model
    group: int | None
    notes: tuple[str, ...]


def choose(wanted: str, progress: Progress, home: Path | None = None) -> Chosen:
    """Return the songs meant by SHELF, SHELF:GROUP or a folder.

    Songs of a folder that are not known yet are measured.
    """
    with open_database(home) as database:
        names = {name.casefold() for name, _ in shelves.counts(database)}
        whole = wanted.strip()
        shelf, colon, group = whole.partition(":")
        if whole.casefold() not in names and (place := _folder(whole)) is not None and shelf.strip().casefold() not in names:
            return _from_folder(database, place, progress)
        if colon and whole.casefold() not in names:
            return _from_shelf(database, shelf, group)
        return _from_shelf(database, whole, None)


def _folder(words: str) -> Path | None:
    """Return the folder meant by some words, if there is one."""
    try:
        place = Path(words).expanduser()
        return place if place.is_dir() else None
    except (OSError, RuntimeError, ValueError):
        return None


def _from_folder(database: Database, folder: Path, progress: Progress) -> Chosen:
    added = add(database, None, [folder], progress)
    if added.stopped:
        raise KeyboardInterrupt
    notes = tuple(f"{name} was left out of the references: {reason}" for name, reason in added.skipped)
    if not added.songs:
        raise RequestError(f"None of the files in {told(folder)} can serve as a reference. {' '.join(notes)}")
    songs = tuple(added.songs)
    return Chosen(None, name_of(folder), songs, make_model(songs), None, notes)


def _from_shelf(database: Database, name: str, group: str | None) -> Chosen:
    shelf = shelves.load(database, name)
    notes = _notes(shelf)
    if not shelf.songs:
        again = " " + notes[0] if notes else ""
        raise RequestError(f"The shelf '{shelf.name}' holds no songs to compare with.{again} `mixproof references add` puts some on it.")
    model = current_model(database, shelf)
    number = None if group is None else pick(groups_of(model, shelf.songs), group, shelf.name).number
    return Chosen(shelf.name, None, shelf.songs, model, number, notes)


def _notes(shelf: shelves.Shelf) -> tuple[str, ...]:
    if not shelf.to_measure:
        return ()
    left_out = (
        f"{len(shelf.to_measure)} of the songs on '{shelf.name}' are left out: an older version measured them, or they cannot be read."
    )
    return (f"{left_out} Add their files once more to have them measured anew.",)


def current_model(database: Database, shelf: shelves.Shelf) -> Model:
    """Return the groups of a shelf as they are kept.

    Found anew, and kept, when the shelf has changed since.
    """
    model = from_json(shelf.model, shelf.songs)
    if model is None:
        model = make_model(shelf.songs)
        shelves.keep_model(database, shelf.name, to_json(model))
    return model
