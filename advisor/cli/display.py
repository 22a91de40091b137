"""What is shown on a terminal alone.

Progress as a bar, lists as tables.
"""

from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn
from rich.table import Table
from rich.text import Text

from advisor.app.streams import safe


class ProgressBar:
    """Shows the present step as a bar on stderr."""

    def __init__(self, console: Console | None = None) -> None:
        """Take the console (stderr's where none is given)."""
        columns = (TextColumn("{task.description}", markup=False), BarColumn(), TaskProgressColumn())
        self._bar = Progress(
            *columns, console=console or Console(stderr=True), transient=True, redirect_stdout=False, redirect_stderr=False
        )
        self._task = self._bar.add_task("", total=None, visible=False)

    def step(self, words: str) -> None:
        """Show what is being done now, or nothing."""
        if not words:
            self.close()
            return
        self._bar.reset(self._task, start=False, total=None, description=safe(words), visible=True)
        self._bar.start()

    def advance(self, done: float) -> None:
        """Show how much of the present step is done.

        A share from 0 to 1.
        """
        self._bar.start_task(self._task)
        self._bar.update(self._task, total=1.0, completed=min(max(done, 0.0), 1.0))

    def announce(self, words: str) -> None:
        """Write the words above the bar, where they stay."""
        self._bar.console.print(safe(words), markup=False, highlight=False)

    def close(self) -> None:
        """Take the bar away and give the cursor back."""
        self._bar.stop()


def print_table(headings: Sequence[str], rows: Sequence[Sequence[str]], caption: str | None = None, console: Console | None = None) -> None:
    """Print rows below their headings on the terminal."""
    table = Table(*headings, box=box.SIMPLE_HEAD, pad_edge=False, caption=caption, caption_justify="left")
    for row in rows:
        table.add_row(*(Text(safe(cell)) for cell in row))  # as they are: no name is taken for markup
    (console or Console()).print(table)
