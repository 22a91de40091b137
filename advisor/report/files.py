"""Writes a report's files, all of them or none.

They are made aside first, then moved into place; a failure puts back what was there.
"""

import errno
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.app.words import plain
from advisor.audition.names import CLIP, FADERS, FOLDER, MARKED, PREVIEW
from advisor.report import html, markdown
from advisor.report.faders import csv_text, fader_list
from advisor.report.folds import folded, shown_first
from advisor.report_model.codec import to_json
from advisor.report_model.comparison import Comparison
from advisor.report_model.master_check import MasterReport
from advisor.report_model.report import Report

REPORT = ("report.json", "report.md", "details.md", "report.html")


@contextmanager
def aside(folder: Path) -> Iterator[Path]:
    """Lend a place in ``folder`` for what is being made.

    It is gone afterwards, and so is a folder left empty.

    An `OSError` inside, such as a full disk, becomes a `RequestError`.
    """
    there = folder.exists()
    place: Path | None = None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        place = Path(tempfile.mkdtemp(prefix=".new-", dir=folder))
        yield place
    except OSError as error:
        raise unwritable(folder, error) from error
    finally:
        if place is not None:
            shutil.rmtree(place, ignore_errors=True)
        if not there:
            with suppress(OSError):
                folder.rmdir()  # only when nothing came of it


def write(report: Report, folder: Path, place: Path, *, single_file: bool = False) -> list[Path]:
    """Write the report's files and move ``place``'s audition beside them.

    As a single file, report.html holds the clips as well.
    What an earlier report left to listen to goes, its preview master as well. A failure leaves everything that was there as it was.
    """
    texts = {
        "report.json": f"{to_json(report)}\n",
        "report.md": markdown.render(report),
        "details.md": markdown.details(report),
        "report.html": html.render(report, place if single_file else None),
    }
    for name, text in texts.items():
        (place / name).write_text(text, encoding="utf-8")
    faders = fader_list(report)
    if faders and (place / FOLDER).is_dir():
        (place / FOLDER / FADERS).write_text(csv_text(faders), encoding="utf-8")
    sounds = [f"{FOLDER}/{path.name}" for path in sorted((place / FOLDER).glob("*"))]
    previews = [name for name in (PREVIEW,) if (place / name).is_file()]
    names = [*sounds, *previews, *REPORT]
    _replace(place, folder, names, [name for name in _earlier(folder) if name not in names])
    return [folder / name for name in names]


def write_text(name: str, document: MasterReport | Comparison, words: str, title: str, folder: Path) -> None:
    """Write a report without sounds into ``folder``.

    It is ``name``.json, .md and .html, all of them or none, and where the words have folds ``name``-details.md; raises `RequestError`.
    """
    texts = {
        f"{name}.json": f"{to_json(document)}\n",
        f"{name}.md": shown_first(words),
        f"{name}.html": html.illustrated_page(document, title) if isinstance(document, MasterReport) else html.page(words, title),
    }
    more = folded(words)
    texts |= {f"{name}-details.md": f"# {plain(title)}: the details\n\n{more}"} if more else {}
    with aside(folder) as place:
        for file, text in texts.items():
            (place / file).write_text(text, encoding="utf-8")
        _replace(place, folder, list(texts), [])


def _earlier(folder: Path) -> list[str]:
    """Return what an earlier report left to listen to.

    Files of our own names, and the marked copy that it speaks of.
    """
    there = sorted(path.name for path in (folder / FOLDER).glob("*"))
    earlier = _stated(folder, "audition", "marked_mix")
    previews = [PREVIEW] if _stated(folder, "mastering", "preview", "file") == PREVIEW and (folder / PREVIEW).is_file() else []
    return [*previews, *(f"{FOLDER}/{name}" for name in there if _ours(folder / FOLDER / name, earlier))]


def _stated(folder: Path, *keys: str) -> object:
    """Return what the folder's report states under some keys.

    None where it states nothing.
    """
    try:
        value = json.loads((folder / "report.json").read_text(encoding="utf-8"))
        for key in keys:
            value = value[key]
    except (OSError, ValueError, LookupError, TypeError):
        return None
    return value


def _ours(path: Path, earlier: object) -> bool:
    named = CLIP.fullmatch(path.name) or path.name == FADERS or (f"{FOLDER}/{path.name}" == earlier and MARKED.fullmatch(path.name))
    return bool(named) and not path.is_dir()


def _replace(place: Path, folder: Path, names: list[str], gone: list[str]) -> None:
    """Move the new files into place, all or none.

    The old ones go back if that fails half-way.
    """
    old = place / "old"
    (old / FOLDER).mkdir(parents=True)
    (folder / FOLDER).mkdir(exist_ok=True)
    done: list[tuple[Path, Path]] = []

    def move(source: Path, target: Path) -> None:
        os.replace(source, target)  # noqa: PTH105 - atomic on one file system
        done.append((source, target))

    try:
        for name in [*gone, *names]:
            if os.path.lexists(folder / name) and not (folder / name).is_dir():
                move(folder / name, old / name)
            if name in names:
                move(place / name, folder / name)
    except BaseException:
        for source, target in reversed(done):
            with suppress(OSError):  # one that cannot go back must not keep the others
                os.replace(target, source)  # noqa: PTH105
        raise
    finally:
        with suppress(OSError):
            (folder / FOLDER).rmdir()  # only when nothing is in it


def unwritable(folder: Path, error: OSError) -> RequestError:
    """Return the error for a folder that refuses writing."""
    reason = error.strerror or str(error)
    more = ", free some space, or do without the clips (--no-audition)" if error.errno in (errno.ENOSPC, errno.EDQUOT) else ""
    return RequestError(f"The report cannot be written to {folder} ({reason}). Choose another folder with --out{more}.")


def check_apart(mix: Path, folder: Path) -> None:
    """Refuse a mix that lies where the clips go.

    It would be replaced; raises `RequestError`.
    """
    if mix.absolute().parent.resolve() == (folder / FOLDER).resolve():
        raise RequestError(
            f"{mix.name} lies in {folder / FOLDER}, which this run would write anew. Choose another folder with --out, or move the file."
        )


def check_writable(folder: Path) -> None:
    """Check before the work that the folder takes files.

    Raises `RequestError`.
    """
    place = folder
    while not place.exists() and place != place.parent:
        place = place.parent
    if place == folder and not place.is_dir():
        raise RequestError(f"{folder} is a file, so no report can be written into it. Choose another folder with --out.")
    if not place.is_dir() or not os.access(place, os.W_OK | os.X_OK):
        raise RequestError(f"The report cannot be written to {folder} (no permission in {place}). Choose another folder with --out.")
