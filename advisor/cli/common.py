"""What the commands share.

Refusals in one sentence, settings folders, progress on a terminal.
"""

import sys
from collections.abc import Iterable, Sequence
from contextlib import ExitStack
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.app.progress import Plain, Progress
from advisor.app.streams import say, write

_on_screen = ExitStack()  # what has to be taken off the terminal before anything else is written there


def refusal(error: Exception) -> str | None:
    """Return the sentence for an error the user can mend.

    None for what is our own fault.
    """
    if isinstance(error, RequestError) or type(error).__name__ == "LoadError":
        return str(error)
    words = getattr(error, "format_message", None)
    if words is None:
        return None
    text = str(words()).rstrip(".")
    return f"{text}. Run `mixproof --help` for the commands, or `mixproof COMMAND --help` for one of them."


def settings_folders(mix: Path) -> list[Path]:
    """Return where mixproof.toml is looked for.

    The user's configuration folder, then the mix's own folder.
    """
    from platformdirs import user_config_path

    return [user_config_path("mixproof"), mix.absolute().parent]


def progress() -> Progress:
    """Return a bar for a terminal, else plain lines."""
    if not sys.stderr.isatty():
        return Plain(say)
    from advisor.cli.display import ProgressBar  # only a terminal needs it

    bar = ProgressBar()
    _on_screen.callback(bar.close)
    return bar


def clear_progress() -> None:
    """Take any bar off the terminal, however the command ended."""
    _on_screen.close()


def show(text: str = "") -> None:
    """Print a line of results on stdout.

    Characters the terminal cannot show, or would obey, become question marks.
    """
    write(f"{text}\n")


def show_table(headings: Sequence[str], rows: Sequence[Sequence[str]], lines: Iterable[str], caption: str | None = None) -> None:
    """Print rows as a table, or as plain ``lines``.

    The table is for terminals.
    """
    if rows and sys.stdout.isatty():
        from advisor.cli.display import print_table  # only a terminal needs it

        print_table(headings, rows, caption)
        return
    for line in lines:
        show(line)
