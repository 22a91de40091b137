"""Puts each finished bounce of the watched folder in line."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from threading import Event, Thread
from time import monotonic

from advisor.page.queue import Queue
from advisor.page.runs import Asked, Runs
from advisor.watching.folder import WatchedFolder

LOOK_EVERY_S = 1.0


@dataclass(frozen=True, slots=True)
class WatchAsked:
    """The folder to watch, and what becomes of its bounces."""

    folder: Path
    asked: Asked


class FolderWatch:
    """Looks at a folder in a thread."""

    def __init__(self, wanted: WatchAsked, runs: Runs, queue: Queue, now: Callable[[], datetime]) -> None:
        """Take note of what lies in the folder already."""
        self.wanted = wanted
        self._watched = WatchedFolder(wanted.folder)
        self._runs, self._queue, self._now = runs, queue, now
        self._closing = Event()
        self._thread = Thread(target=self._work, daemon=True)

    @property
    def there(self) -> bool:
        """Whether the folder could be looked into."""
        return self._watched.there

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def close(self) -> None:
        """End."""
        self._closing.set()
        if self._thread.is_alive():
            self._thread.join()

    def look(self, now_s: float) -> None:
        """Put what came to rest in line."""
        for bounce in self._watched.look(now_s):
            self._runs.make(self.wanted.asked, self._now(), (bounce.mix, bounce.stems))
            self._queue.wake()

    def _work(self) -> None:
        while not self._closing.wait(LOOK_EVERY_S):
            with suppress(OSError):  # a full disk; the next bounce may find room
                self.look(monotonic())
