"""What `mixproof` says when it is asked for nothing."""

import sys

from advisor.cli.common import show

WORDS = """mixproof tells you what to fix in your mix before mastering. Three things to begin with:

  mixproof demo                    a song of its own, critiqued twice: see what you get
  mixproof critique my-mix.wav     your mix: what to fix, where to listen, by how much
  mixproof serve                   the same as a page in your browser: drop the mix on it

All commands: mixproof --help"""


def welcome() -> list[str]:
    """Say what can be done, and offer the page.

    It is offered on a terminal. Returns the command that is wanted; nothing where none is.
    """
    show(WORDS)
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return []
    import typer

    show()
    try:
        return ["serve"] if typer.confirm("Open the page now?", default=True) else []
    except typer.Abort:
        return []
