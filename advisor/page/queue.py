"""Works off the runs in line, one at a time.

Whatever servers there are share one line: the lock of a small database says who works it off, and is free again when its holder ends.
"""

import sqlite3
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from threading import Event, Thread

from advisor.page.runs import LOG, REFUSAL, REFUSED, Run, Runs

LOOK_EVERY_S = 2.0
POLL_S = 0.1
WORKER = (sys.executable, "-m", "advisor.page.worker")
ENDED_EARLY = "The critique ended before it was done: its process was ended from outside, or met something unforeseen."


class Queue:
    """The line of runs, worked off in a thread."""

    def __init__(self, runs: Runs, worker: Sequence[str] = WORKER) -> None:
        """Take the runs and the command of a worker."""
        self._runs, self._worker = runs, tuple(worker)
        self._wake, self._closing = Event(), Event()
        self._lock: sqlite3.Connection | None = None
        self._thread = Thread(target=self._work, daemon=True)

    def start(self) -> None:
        """Begin to work."""
        self._thread.start()

    def wake(self) -> None:
        """Say that there is something new in line."""
        self._wake.set()

    def close(self) -> None:
        """End, and the present worker with it.

        What it was doing is begun anew by the next server.
        """
        self._closing.set()
        self._wake.set()
        if self._thread.is_alive():
            self._thread.join()

    def _work(self) -> None:
        try:
            while not self._closing.is_set():
                run = self._next() if self._holds_lock() else None
                if run is None:
                    self._wake.wait(LOOK_EVERY_S)
                    self._wake.clear()
                else:
                    self._try(run)
        finally:
            if self._lock is not None:
                self._lock.close()

    def _try(self, run: Run) -> None:
        """Do a run, or leave it in line while the disk refuses."""
        try:
            self._do(run)
        except OSError:
            self._end(run, run)
            self._closing.wait(LOOK_EVERY_S)

    def _holds_lock(self) -> bool:
        """Take the lock where it is free."""
        if self._lock is not None:
            return True
        try:
            self._runs.folder.mkdir(parents=True, exist_ok=True)
            lock = sqlite3.connect(self._runs.folder / "line.sqlite3", timeout=0.0, isolation_level=None)
        except (OSError, sqlite3.Error):
            return False
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error:
            lock.close()
            return False
        self._lock = lock
        for run in self._runs.all():
            if run.state == "running":  # by a server that is gone
                self._runs.put(replace(run, state="waiting"))
        return True

    def _next(self) -> Run | None:
        waiting = [run for run in self._runs.all() if run.state == "waiting"]
        return waiting[-1] if waiting else None

    def _do(self, run: Run) -> None:
        place = self._runs.place(run)
        if self._runs.stop_asked(run):
            self._end(run, replace(run, state="stopped"))
            return
        (place / REFUSAL).unlink(missing_ok=True)
        with (place / LOG).open("wb") as log:
            self._end(run, replace(run, state="running"))
            process = subprocess.Popen([*self._worker, str(place)], stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=log)
        with process:
            while process.poll() is None and not self._closing.is_set() and not self._runs.stop_asked(run):
                with suppress(subprocess.TimeoutExpired):
                    process.wait(POLL_S)
            status = process.poll()
            if status is None:
                process.kill()
        if status is None and self._closing.is_set():
            return
        ended = replace(run, state="stopped") if status is None else self._outcome(run, status, place)
        if ended.state == "done" and not run.asked.keep:
            self._runs.drop_sounds(run)
        self._end(run, ended)

    def _outcome(self, run: Run, status: int, place: Path) -> Run:
        if status == 0:
            return replace(run, state="done", said="")
        if status == REFUSED and (place / REFUSAL).is_file():
            return replace(run, state="failed", said=(place / REFUSAL).read_text(encoding="utf-8"))
        return replace(run, state="failed", said=f"{ENDED_EARLY} What it wrote last is in {place / LOG}.")

    def _end(self, run: Run, changed: Run) -> None:
        with suppress(OSError):  # a run that is being removed needs no state
            if (self._runs.place(run) / "run.json").exists():
                self._runs.put(changed)
            else:
                self._runs.delete(run)  # what the worker still wrote
