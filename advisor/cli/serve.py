"""`mixproof serve`: the same as a page on this machine."""

from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from advisor.cli.common import show


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
    from advisor.page.runs import Asked
    from advisor.page.server import listening, server
    from advisor.page.watched import WatchAsked

    if (watch is None) != (project is None):
        raise RequestError("A watched folder needs its project, and the other way round: --watch FOLDER --project NAME.")
    wanted = None
    if watch is not None and project is not None:
        from advisor.cli.watch import checked

        folder, name = checked(watch, project)
        wanted = WatchAsked(folder, Asked(project=name, references=references, target_lufs=target))

    def started(address: str) -> None:
        show(f"The page: {address}  (Ctrl-C ends it)")
        if not no_browser:
            import webbrowser

            webbrowser.open(address)

    with suppress(KeyboardInterrupt), listening(port) as opened:
        server(opened, wanted, started).run(sockets=[opened])
    show("The page is closed. What waits in line goes on at the next start.")
    return 0
