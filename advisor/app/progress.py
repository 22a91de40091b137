"""Telling the user what is being done, on stderr and only when somebody watches."""

from collections.abc import Callable
from typing import Protocol


class Progress(Protocol):
    """Something that shows how far the work is."""

    def step(self, words: str) -> None:
        """Say what is being done now."""

    def advance(self, done: float) -> None:
        """Show the share of the present step that is done, 0 to 1."""

    def announce(self, words: str) -> None:
        """Say something that stays to be read."""


class Quiet:
    """No progress shown."""

    def step(self, words: str) -> None:
        """Say nothing."""

    def advance(self, done: float) -> None:
        """Show nothing."""

    def announce(self, words: str) -> None:
        """Say nothing."""


class Plain(Quiet):
    """Only what stays to be read, for output that nobody watches while it grows."""

    def __init__(self, write: Callable[[str], object]) -> None:
        """Take what writes."""
        self._write = write

    def announce(self, words: str) -> None:
        """Write the words on a line of their own."""
        self._write(f"{words}\n")


class Line:
    """One line that is written over, for a terminal."""

    def __init__(self, write: Callable[[str], object]) -> None:
        self._write = write
        self._words = ""

    def step(self, words: str) -> None:
        """Replace the line by ``words``; empty words clear it."""
        self._words = words
        self._write(f"\r\x1b[K{words}")

    def advance(self, done: float) -> None:
        """Add a bar to the line."""
        filled = round(20 * min(max(done, 0.0), 1.0))
        self._write(f"\r\x1b[K{self._words}  [{'#' * filled}{'.' * (20 - filled)}] {done:4.0%}")

    def announce(self, words: str) -> None:
        """Write the words on a line of their own, above the one that is written over."""
        self._write(f"\r\x1b[K{words}\n{self._words}")
