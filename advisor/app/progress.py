"""Telling the user what is being done.

On stderr, and only when somebody watches.
"""

from collections.abc import Callable
from typing import Protocol


class Progress(Protocol):
    """Something that shows how far the work is."""

    def step(self, words: str) -> None:
        """Say what is being done now."""

    def advance(self, done: float) -> None:
        """Show the share of the step that is done.

        ``done`` is 0 to 1 of the present step.
        """

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
    """Progress that only prints what stays to be read.

    For output that nobody watches while it grows.
    """

    def __init__(self, write: Callable[[str], object]) -> None:
        """Take what writes a line."""
        self._write = write

    def announce(self, words: str) -> None:
        """Write the words on a line of their own."""
        self._write(words)
