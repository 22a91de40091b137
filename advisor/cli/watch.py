"""`mixproof watch`: each finished bounce in a folder is critiqued."""

from collections.abc import Iterator
from pathlib import Path
from time import monotonic, sleep
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.common import clear_progress, progress, refusal, settings_folders, show

if TYPE_CHECKING:
    from advisor.watching.folder import FinishedBounce, WatchedFolder

LOOK_EVERY_S = 1.0


def command(
    folder: Annotated[Path, typer.Argument(help="The folder that your workstation bounces into.")],
    project: Annotated[str, typer.Option(help="The project that the bounces are recorded in.")],
    references: Annotated[str | None, typer.Option(help="Your own songs to compare with, as in mixproof critique.")] = None,
    target: Annotated[float | None, typer.Option(help="Loudness the master should reach, in LUFS (default -13).")] = None,
    quick: Annotated[bool, typer.Option("--quick", help="Measure and judge only; try nothing on the audio.")] = False,
    out: Annotated[Path | None, typer.Option(help="Folder for the reports (default: beside the bounces).")] = None,
) -> int:
    """Critique each bounce that lands in a folder.

    A bounce is taken once it is written to its end, and says what changed since the one before. Stems are found by name: beside `song.wav`,
    the folder `song-stems`, or `stems`. Ctrl-C ends it.
    """
    from advisor.app.stopping import heeded
    from advisor.history.store import proper_name
    from advisor.watching.folder import WatchedFolder, checked_folder

    folder, name = checked_folder(folder), proper_name(project)
    watched = WatchedFolder(folder)
    already = f" Of the {watched.known} there already, none is." if watched.known else ""
    show(f"Watching {folder}: each new bounce is critiqued.{already} Ctrl-C ends it.")
    options: dict[str, float | bool | None] = {"target_lufs": target, "quick": quick or None}
    try:
        for bounce in bounces(watched):
            _critique(bounce, name, references, options, out)
    except KeyboardInterrupt:
        heeded()
        clear_progress()
        show("Stopped watching. A critique that was under way was not written.")
    return 0


def bounces(watched: "WatchedFolder") -> "Iterator[FinishedBounce]":
    """Yield each finished bounce.

    Says when the folder is gone, and when it is there again.
    """
    there = True
    while True:
        yield from watched.look(monotonic())
        if watched.there != there:
            there = watched.there
            show("The folder is there again." if there else f"{watched.folder} cannot be looked into now; waiting until it is there again.")
        sleep(LOOK_EVERY_S)


def _critique(
    bounce: "FinishedBounce", project: str, references: str | None, options: dict[str, float | bool | None], out: Path | None
) -> None:
    """Critique a bounce. What stops it stops only this one."""
    from advisor.app.settings import load_settings
    from advisor.cli.critique import first_words, print_summary, recorder
    from advisor.critique import CritiqueInputs, critique, default_folder

    show()
    show(f"{bounce.mix.name}{'' if bounce.stems is None else f' with the stems in {bounce.stems.name}'}")
    folder = None if out is None else out / default_folder(bounce.mix).name
    try:
        settings = load_settings(settings_folders(bounce.mix), options)
        inputs = CritiqueInputs(bounce.stems, recorder(project), references)
        done = critique(bounce.mix, settings, folder, progress(), first_words(), inputs)
    except Exception as error:
        clear_progress()
        words = refusal(error)
        if words is None:
            raise
        show(f"Not critiqued: {words}")
        return
    clear_progress()
    print_summary(done.report, done.folder)
