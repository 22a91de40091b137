"""What was asked for on the page.

Each run is a folder of its own, and that is all there is: it survives the page, a second server, and the machine's sleep.
"""

import re
import secrets
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Literal, TypeVar

from advisor.report_model.codec import from_json, to_json
from advisor.store.home import home

Kind = Literal["critique", "compare", "master"]
State = Literal["receiving", "waiting", "running", "done", "failed", "stopped"]
SLOTS: dict[Kind, tuple[str, ...]] = {"critique": ("mix", "stems"), "compare": ("earlier", "later"), "master": ("master", "mix")}
NEEDED: dict[Kind, tuple[str, ...]] = {"critique": (), "compare": ("earlier", "later"), "master": ("master",)}
ENDED: tuple[State, ...] = ("done", "failed", "stopped")
REFUSED, REFUSAL, LOG = 2, "refused.txt", "worker.log"  # how a worker says that it cannot be done
FIRST, REPORT = "first", "report"  # folders of the report before anything is tried, and of the whole
NUMBER = re.compile(r"[0-9a-f]{16}")
FOLDER = "critiques"
ValueT = TypeVar("ValueT")


@dataclass(frozen=True, slots=True)
class Asked:
    """What the user asked for."""

    kind: Kind = "critique"
    project: str | None = None
    references: str | None = None
    target_lufs: float | None = None
    quick: bool = False
    render: bool = False
    keep: bool = True


@dataclass(frozen=True, slots=True)
class Run:
    """One critique, comparison or check that was asked for.

    ``mix`` and ``stems`` are paths of a watched folder; None where the files were uploaded.
    """

    id: str
    made: str
    asked: Asked
    state: State = "receiving"
    said: str = ""
    name: str = ""
    mix: str | None = None
    stems: str | None = None


class Runs:
    """All runs, in the user's data folder."""

    def __init__(self, folder: Path | None = None) -> None:
        """Take the folder, or the usual one."""
        self.folder = home() / FOLDER if folder is None else folder

    def make(self, asked: Asked, now: datetime, watched: tuple[Path, Path | None] | None = None) -> Run:
        """Make a run.

        One of a watched folder is in line at once.
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        run = Run(secrets.token_hex(8), now.isoformat(timespec="microseconds"), asked)
        if watched is not None:
            mix, stems = watched
            run = replace(run, state="waiting", name=mix.name, mix=str(mix), stems=None if stems is None else str(stems))
        self.place(run).mkdir()
        self.put(run)
        return run

    def place(self, run: Run) -> Path:
        """Return a run's folder."""
        return self.folder / run.id

    def put(self, run: Run) -> None:
        """Keep a run as it is now."""
        write_value(self.place(run) / "run.json", run)

    def all(self) -> list[Run]:
        """Return all runs, the newest first."""
        return sorted(self._there(), key=lambda run: run.made, reverse=True)

    def get(self, number: str) -> Run | None:
        """Return the run of a number, or None.

        The number is looked up, and never becomes a path unless it is one of ours.
        """
        return read_value(Run, self.folder / number / "run.json") if NUMBER.fullmatch(number) else None

    def delete(self, run: Run) -> None:
        """Remove a run with all that was uploaded and written."""
        shutil.rmtree(self.place(run), ignore_errors=True)

    def stop(self, run: Run) -> None:
        """Ask whoever works on a run to stop."""
        (self.place(run) / "stop").touch()

    def stop_asked(self, run: Run) -> bool:
        """Whether somebody asked for a stop, or removed the run."""
        place = self.place(run)
        return not place.is_dir() or (place / "stop").exists()

    def again(self, run: Run) -> Run:
        """Put a run in line once more."""
        place = self.place(run)
        for name in ("stop", "progress.json"):
            (place / name).unlink(missing_ok=True)
        waiting = replace(run, state="waiting", said="")
        self.put(waiting)
        return waiting

    def drop_sounds(self, run: Run) -> None:
        """Delete what was uploaded, and keep the report."""
        for slot in SLOTS[run.asked.kind]:
            shutil.rmtree(self.place(run) / slot, ignore_errors=True)

    def _there(self) -> Iterator[Run]:
        try:
            names = [path.name for path in self.folder.iterdir()]
        except OSError:
            return
        for name in names:
            run = self.get(name)
            if run is not None:
                yield run


def write_value(path: Path, value: object) -> None:
    """Write a value whole.

    Whoever reads meanwhile sees the old or the new one.
    """
    aside = path.with_name(f"{path.name}.{secrets.token_hex(4)}.new")
    aside.write_text(to_json(value, indent=None), encoding="utf-8")
    aside.replace(path)


def read_value(kind: type[ValueT], path: Path) -> ValueT | None:
    """Read a value back. None where there is none."""
    try:
        return from_json(kind, path.read_bytes())
    except (OSError, ValueError):
        return None
