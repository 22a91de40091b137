"""`mixproof serve`: the same as a page on this machine."""

import sys
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from advisor.cli.common import show

WORDS = """mixproof tells you what to fix in your mix before mastering. Three things to begin with:

  mixproof demo                    a song of its own, critiqued twice: see what you get
  mixproof critique my-mix.wav     your mix: what to fix, where to listen, by how much
  mixproof serve                   the same as a page in your browser: drop the mix on it

All commands: mixproof --help"""


def command(
    port: Annotated[int | None, typer.Option(help="Port of the page (default 8737, or a free one where that is taken).")] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only print the page's address.")] = False,
    watch: Annotated[Path | None, typer.Option(help="Critique each finished bounce that lands in this folder; needs --project.")] = None,
    project: Annotated[str | None, typer.Option(help="With --watch: the project that the bounces are recorded in.")] = None,
    references: Annotated[str | None, typer.Option(help="With --watch: your own songs to compare with, as in mixproof critique.")] = None,
    target: Annotated[float | None, typer.Option(help="With --watch: loudness the master should reach, in LUFS.")] = None,
) -> int:
    """Open a page in your browser for your mix.

    The page is served to this machine alone, and works without a network. Ctrl-C ends it; what waits in line is kept.
    """
    from advisor.app.errors import RequestError
    from advisor.app.stopping import heeded
    from advisor.page.runs import Asked
    from advisor.page.server import listening, server
    from advisor.page.watched import WatchAsked

    if (watch is None) != (project is None):
        raise RequestError("A watched folder needs its project, and the other way round: --watch FOLDER --project NAME.")
    wanted = None
    if watch is not None and project is not None:
        from advisor.history.store import proper_name
        from advisor.watching.folder import checked_folder

        asked = Asked(project=proper_name(project), references=references, target_lufs=target)
        wanted = WatchAsked(checked_folder(watch), asked)

    def started(address: str) -> None:
        show(f"The page: {address}  (Ctrl-C ends it)")
        if not no_browser:
            import webbrowser

            webbrowser.open(address)

    with suppress(KeyboardInterrupt), listening(port) as opened:
        server(opened, wanted, started).run(sockets=[opened])
    heeded()
    show("The page is closed. What waits in line goes on at the next start.")
    return 0


def welcome() -> list[str]:
    """Say what can be done, and offer the page.

    It is offered on a terminal. Returns the command that is wanted; nothing where none is.
    """
    show(WORDS)
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return []
    show()
    try:
        return ["serve"] if typer.confirm("Open the page now?", default=True) else []
    except typer.Abort:
        return []
