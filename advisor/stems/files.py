"""The files of a folder that are stems.

What the elements are called, and opening them all.
"""

import hashlib
from collections import Counter
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.stems.settings import StemSettings, read_settings
from features.sound.load import LoadError, Opened, open_source
from features.sound.opening.formats import SOUND_ENDINGS

MOST_STEMS = 64
RESERVED = frozenset({"mix", "percussive", "sustained", "mid", "side", "left", "right"})  # parts of a remedy


@dataclass(frozen=True, slots=True)
class StemListing:
    """The sound files of a folder and their elements' names.

    In the order of their names, with remarks.
    """

    folder: Path
    paths: tuple[Path, ...]
    names: tuple[str, ...]
    settings: StemSettings
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StemFiles:
    """The stems that could be opened.

    ``names``, ``opened`` run side by side.
    """

    names: tuple[str, ...]
    opened: tuple[Opened, ...]
    settings: StemSettings
    notes: tuple[str, ...]

    def without(self, number: int, note: str) -> "StemFiles":
        """Return the same without one stem, noting why."""
        return StemFiles(
            self.names[:number] + self.names[number + 1 :], self.opened[:number] + self.opened[number + 1 :], self.settings,
            (*self.notes, note),
        )  # fmt: skip

    def sha256(self) -> str:
        """Return one hash over all stems' hashes, by name."""
        return hashlib.sha256("".join(sound.file.sha256 for sound in self.opened).encode()).hexdigest()


def find_files(folder: Path, mix_path: Path | None, *, with_settings: bool = True) -> StemListing:
    """List the stems of a folder.

    Its sound files, without the mix itself and without what stems.toml leaves out.
    """
    _check_folder(folder)
    try:
        inside = sorted(folder.iterdir(), key=lambda path: (path.name.lower(), path.name))
    except OSError as error:
        raise RequestError(
            f"The folder “{folder}” may not be listed ({error.strerror}); change its permissions or copy the stems."
        ) from None
    paths = [path for path in inside if not path.name.startswith(".") and path.suffix.lower() in SOUND_ENDINGS and path.is_file()]
    if not paths:
        raise RequestError(_nothing(folder, inside))
    notes: list[str] = []
    same = [path for path in paths if mix_path is not None and mix_path.exists() and path.samefile(mix_path)]
    if same:
        notes.append(f"“{same[0].name}” is the mix itself and lies among the stems; it was left out.")
        paths.remove(same[0])
        if not paths:
            raise RequestError(f"The folder “{folder.name}” holds nothing but the mix itself; put one file for each element there.")
    names = element_names(paths)
    known = {path.name: name for path, name in zip(paths, names, strict=True)}
    settings = read_settings(folder, known) if with_settings else StemSettings()
    numbers = [number for number, name in enumerate(names) if name not in settings.leave_out]
    if not numbers:
        raise RequestError(f"stems.toml leaves out every stem in “{folder.name}”; take some names off its leave_out.")
    if len(numbers) > MOST_STEMS:
        raise RequestError(
            f"The folder “{folder.name}” holds {len(numbers)} sound files, and at most {MOST_STEMS} elements can be told apart; "
            "bounce one file for each element with a fader of its own, doubles and layers summed, or leave some out in stems.toml."
        )
    return StemListing(
        folder, tuple(paths[number] for number in numbers), tuple(names[number] for number in numbers), settings, tuple(notes)
    )


def _check_folder(folder: Path) -> None:
    if not folder.exists():
        raise RequestError(f"There is no folder “{folder}”, so there are no stems to read; check the path.")
    if not folder.is_dir():
        raise RequestError(
            f"“{folder.name}” is a file, and stems are read from a folder; give the folder that holds one file for each element."
        )


def _nothing(folder: Path, inside: Sequence[Path]) -> str:
    deeper = (
        [path.name for path in inside if path.is_dir() and any(file.suffix.lower() in SOUND_ENDINGS for file in path.iterdir())]
        if inside
        else []
    )
    if deeper:
        return f"The folder “{folder.name}” holds no sound file itself, but its folder “{deeper[0]}” does; give that one."
    what = "is empty" if not inside else "holds no sound file"
    return (
        f"The folder “{folder.name}” {what}, so there are no stems to read; put one file for each element there, for example WAV or FLAC."
    )


def element_names(paths: Sequence[Path]) -> list[str]:
    """Return a name for every file.

    Without its ending, with it where another file differs in the ending or in case alone.

    A name that means something else in a remedy gets the word "stem" behind it.
    """
    counted = Counter(path.stem.lower() for path in paths)
    names = [path.name if counted[path.stem.lower()] > 1 else path.stem for path in paths]
    taken = Counter(name.lower() for name in names)
    elements: list[str] = []
    for name in names:
        if taken[name.lower()] > 1 and name.lower() in {element.lower() for element in elements}:
            number = next(
                candidate
                for candidate in range(2, len(paths) + 2)
                if f"{name} ({candidate})".lower() not in {element.lower() for element in elements}
            )
            elements.append(f"{name} ({number})")
        else:
            elements.append(f"{name} stem" if name.lower() in RESERVED else name)
    return elements


def open_files(listing: StemListing, stack: ExitStack, *, hashed: bool) -> StemFiles:
    """Open every file that can be read.

    Each that cannot is named in a note.
    """
    names, opened, notes, broken = [], [], list(listing.notes), []
    for name, path in zip(listing.names, listing.paths, strict=True):
        try:
            sound = stack.enter_context(open_source(path, memory_bytes=0, hashed=hashed))
        except LoadError as error:
            broken.append(str(error))
            continue
        names.append(name)
        opened.append(sound)
        notes.extend(f"“{path.name}”: {note}" for note in sound.notes)
    if not opened:
        raise RequestError(f"None of the {len(broken)} sound files in “{listing.folder.name}” can be read. The first: {broken[0]}")
    notes.extend(f"{words} The other stems were read." for words in broken)
    return StemFiles(tuple(names), tuple(opened), listing.settings, tuple(notes))
