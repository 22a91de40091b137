"""Finds the bounces that are finished in a folder.

A bounce is finished when neither it nor its stems have changed for a while. Nothing but a look at the folder is needed.
"""

from dataclasses import dataclass
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.app.paths import followed, told
from features.sound.opening.formats import SOUND_ENDINGS

REST_S = 3.0  # longer than a workstation pauses while it writes
STEMS_NAMES = ("{name}-stems", "{name}_stems", "{name} stems", "{name} Stems", "stems/{name}", "Stems/{name}", "stems", "Stems", "STEMS")

Signature = tuple[tuple[int, int, int], ...]  # inode, bytes and time of change, of the bounce and then of its stems


@dataclass(frozen=True, slots=True)
class FinishedBounce:
    """A bounce at rest, with the folder of its stems."""

    mix: Path
    stems: Path | None


class WatchedFolder:
    """A folder that bounces land in.

    What lies in it at first is no new bounce. A file that was only renamed is not one either; one that was written over is.
    """

    def __init__(self, folder: Path) -> None:
        """Take note of what is there already."""
        self.folder = folder
        self.there = True
        self._known: dict[str, Signature] = {}
        self._changing: dict[str, tuple[Signature, float]] = {}  # what it was when last looked at, and since when
        self._known = {path.name: _signature(path, None) for path in self._bounces()}

    @property
    def known(self) -> int:
        """How many bounces are there that are not new."""
        return len(self._known)

    def look(self, now_s: float) -> tuple[FinishedBounce, ...]:
        """Return the bounces that came to rest, the oldest first.

        ``now_s`` is any clock that only goes forward. Each bounce is returned once, until it is written over.
        """
        finished: list[tuple[int, FinishedBounce]] = []
        paths = self._bounces()
        for path in paths:
            bounce = FinishedBounce(path, stems_of(path))
            alone, whole = _signature(path, None), _signature(path, bounce.stems)
            if not alone or alone in self._known.values():
                self._changing.pop(path.name, None)
                continue
            before, since = self._changing.get(path.name, ((), now_s))
            if whole != before:
                self._changing[path.name] = (whole, now_s)
            elif now_s - since >= REST_S and alone[0][1] > 0:
                del self._changing[path.name]
                self._known[path.name] = alone
                finished.append((alone[0][2], bounce))
        self._forget_but({path.name for path in paths})
        return tuple(bounce for _, bounce in sorted(finished, key=lambda entry: (entry[0], entry[1].mix.name)))

    def _forget_but(self, names: set[str]) -> None:
        for name in set(self._changing) - names:
            del self._changing[name]

    def _bounces(self) -> list[Path]:
        """Return the sound files there now.

        None, and a note, where the folder cannot be looked into.
        """
        try:
            paths = [path for path in self.folder.iterdir() if _is_bounce(path)]
        except OSError:
            self.there = False
            return []
        self.there = True
        return sorted(paths)


def checked_folder(folder: Path) -> Path:
    """Return a folder that can be watched, or refuse."""
    there = followed(folder)
    if not there.is_dir():
        raise RequestError(f"{told(folder)} is no folder. Name the folder that your workstation bounces into.")
    return there


def stems_of(bounce: Path) -> Path | None:
    """Return the folder of stems beside a bounce.

    It is known by its name: ``song-stems`` before plain ``stems``; None where there is none with a sound in it.
    """
    for pattern in STEMS_NAMES:
        folder = bounce.parent / pattern.format(name=bounce.stem)
        try:
            if folder.is_dir() and any(_is_bounce(path) for path in folder.iterdir()):
                return folder
        except OSError:
            continue
    return None


def _is_bounce(path: Path) -> bool:
    return path.suffix.lower() in SOUND_ENDINGS and not path.name.startswith(".") and path.is_file()


def _signature(path: Path, stems: Path | None) -> Signature:
    """Return what changes when a file or a stem does; empty where it is gone."""
    try:
        paths = [path, *(sorted(stem for stem in stems.iterdir() if _is_bounce(stem)) if stems is not None else [])]
        states = [file.stat() for file in paths]
    except OSError:
        return ()
    return tuple((state.st_ino, state.st_size, state.st_mtime_ns) for state in states)
