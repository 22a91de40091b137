"""`mixproof references`: the user's own shelves of songs."""

import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.app.history_words import counted
from advisor.cli.common import progress, show, show_table

if TYPE_CHECKING:
    from advisor.references.adding import Added
    from advisor.references.grouping import Group
    from advisor.references.shelf import Shelf
    from advisor.store.database import Database

HELP = "Your own songs to compare with, on shelves: add, list, show, remove, groups."
INTERRUPTED = 130
ShelfName = Annotated[str, typer.Argument(help="The shelf's name.")]


def _opened() -> "AbstractContextManager[Database]":
    from advisor.store.database import open_database

    return open_database()


def add(
    shelf: Annotated[str, typer.Argument(help="The shelf's name; a new one is made.")],
    files: Annotated[list[Path], typer.Argument(help="Songs, or folders of songs (deeper folders too).")],
) -> int:
    """Measure songs and put them on a shelf.

    Only numbers are kept, never sound; a song that is known already costs nothing.
    """
    from advisor.references.adding import add as put
    from advisor.references.shelf import check_name

    name = check_name(shelf)
    with _opened() as database:
        _tell_damage(database)
        added = put(database, name, files, progress())
    return _tell_added(name, added)


def _tell_damage(database: "Database") -> None:
    if database.set_aside is not None:
        show(f"The file that keeps the shelves was damaged. It was moved to {database.set_aside}, unchanged; this is a new one.")


def _tell_added(name: str, added: "Added") -> int:
    from advisor.app.errors import RequestError

    for title, reason in added.skipped:
        show(f"Skipped: {reason}" if title in reason else f"Skipped: “{title}”: {reason}.")
    there = f", {len(added.there)} there already" if added.there else ""
    skipped = f", {len(added.skipped)} skipped" if added.skipped else ""
    show(f"{len(added.new)} added to '{name}'{there}{skipped}.")
    if added.stopped:
        show(f"Stopped with {added.left} to go. Everything measured so far is kept; the same command goes on from here.")
        return INTERRUPTED
    if not added.new and not added.there:
        raise RequestError(f"None of these files could be put on '{name}'. The reasons stand above, file by file.")
    return 0


def list_() -> int:
    """List the shelves and how many songs each holds."""
    from advisor.references.shelf import counts

    with _opened() as database:
        _tell_damage(database)
        shelves = counts(database)
    rows = [(name, str(songs)) for name, songs in shelves]
    show_table(("Shelf", "Songs"), rows, (f"{name}: {counted(songs, 'song', 'songs')}" for name, songs in shelves))
    if not shelves:
        show("There are no shelves yet. `mixproof references add SHELF FILES` makes one.")
    return 0


def show_(shelf: ShelfName) -> int:
    """Show the songs of a shelf.

    What they have in common is shown too.
    """
    from advisor.references.listing import shelf_text
    from advisor.references.shelf import load

    with _opened() as database:
        loaded = load(database, shelf)
    show(shelf_text(loaded))
    return 0


def remove(
    shelf: ShelfName,
    song: Annotated[str | None, typer.Argument(help="One song, by its file name; without it the whole shelf goes.")] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
) -> int:
    """Remove a song, or a whole shelf.

    It goes from what is kept; the files themselves are not touched.
    """
    from advisor.references.shelf import find_song, load, remove_shelf, remove_song

    with _opened() as database:
        loaded = load(database, shelf)
        if song is None:
            count = len(loaded.songs) + len(loaded.to_measure)
            question = f"Remove the shelf '{loaded.name}' with {counted(count, 'song', 'songs')}? The files themselves stay."
            if yes or _agreed(question):
                remove_shelf(database, loaded.name)
                show(f"The shelf '{loaded.name}' is gone.")
            return 0
        sha256, title = find_song(loaded, song)
        if yes or _agreed(f"Remove {title} from the shelf '{loaded.name}'? The file itself stays."):
            remove_song(database, loaded.name, sha256)
            show(f"{title} is off the shelf '{loaded.name}'.")
    return 0


def _agreed(question: str) -> bool:
    from advisor.app.errors import RequestError

    if not sys.stdin.isatty():
        raise RequestError(f"{question} Nobody is there to answer; add --yes to do it without asking.")
    agreed = typer.confirm(question)
    if not agreed:
        show("Nothing was removed.")
    return agreed


def groups(shelf: ShelfName) -> int:
    """Show whether the songs of a shelf fall into groups.

    It shows what each group shares; from twelve songs on.
    """
    from advisor.references.listing import groups_text

    loaded, made = _grouped(shelf)
    show(groups_text(loaded, *made))
    return 0


def _grouped(name: str) -> "tuple[Shelf, tuple[tuple[Group, ...], tuple[str, ...]]]":
    from advisor.references.choosing import current_model
    from advisor.references.grouping import groups_of, tried_words
    from advisor.references.shelf import load

    with _opened() as database:
        loaded = load(database, name)
        if not loaded.songs:
            return loaded, ((), ())
        model = current_model(database, loaded)
    return loaded, (groups_of(model, loaded.songs), tried_words(model))


commands: dict[str, Callable[..., int]] = {"add": add, "list": list_, "show": show_, "remove": remove, "groups": groups}
