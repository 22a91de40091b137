"""How far a run is.

Its worker writes it, and the page reads it.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from advisor.page.runs import write_value

FILE_NAME = "progress.json"
WRITTEN_EVERY_S = 0.25
LEAST_SHARE = 0.1  # below it, what is left is a guess


@dataclass(frozen=True, slots=True)
class RunProgress:
    """The stages done, the present one, and its share.

    ``since_s`` and ``now_s`` are seconds since 1970.
    """

    done: tuple[str, ...] = ()
    now: str = ""
    share: float | None = None
    since_s: float = 0.0
    now_s: float = 0.0
    notes: tuple[str, ...] = ()

    def left_s(self) -> float | None:
        """Return how long the stage still takes, in seconds.

        None while that would be a guess.
        """
        if self.share is None or not LEAST_SHARE <= self.share < 1.0:
            return None
        return (self.now_s - self.since_s) * (1.0 - self.share) / self.share


class FileProgress:
    """Writes how far the work is into a file."""

    def __init__(self, folder: Path, clock: Callable[[], float]) -> None:
        """Take the run's folder and a clock in seconds."""
        self._path, self._clock = folder / FILE_NAME, clock
        self._state, self._written_s = RunProgress(), 0.0

    def step(self, words: str) -> None:
        """Say what is being done now."""
        now_s = self._clock()
        state = self._state
        done = (*state.done, state.now) if state.now and state.now not in state.done else state.done
        self._write(replace(state, done=done, now=words, share=None, since_s=now_s, now_s=now_s))

    def advance(self, done: float) -> None:
        """Show the share of the step that is done."""
        now_s = self._clock()
        self._state = replace(self._state, share=min(max(done, 0.0), 1.0), now_s=now_s)
        if now_s - self._written_s >= WRITTEN_EVERY_S:
            self._write(self._state)

    def announce(self, words: str) -> None:
        """Say something that stays to be read."""
        self._write(replace(self._state, notes=(*self._state.notes, words)))

    def _write(self, state: RunProgress) -> None:
        self._state, self._written_s = state, state.now_s
        write_value(self._path, state)
