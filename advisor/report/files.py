"""Writes a report's files, all of them or none."""

import errno
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.app.paths import followed, is_there, told
from advisor.app.words import plain
from advisor.audition.names import CLIP, FADERS, FOLDER, MARKED, PREVIEW
from advisor.report import html, markdown
from advisor.report.faders import csv_text, fader_list
from advisor.report.folds import folded, shown_first
from advisor.report_model.codec import to_json
from advisor.report_model.comparison import Comparison
from advisor.report_model.master_check import MasterReport
from advisor.report_model.report import Report
from advisor.store import writer
from advisor.store.writer import Entry, HasEntry, nothing_recorded

REPORT = ("report.md", "details.md", "report.html", "report.json")  # in this order: the last one speaks of the others
MOST_REPORT_BYTES = 64 << 20


@contextmanager
def aside(folder: Path, has_entry: HasEntry = nothing_recorded) -> Iterator[Path]:
    """Lend a place in ``folder``, as `writer.aside`.

    An `OSError` inside, such as a full disk, becomes a `RequestError`.
    """
    try:
        with writer.aside(folder, has_entry) as place:
            yield place
    except OSError as error:
        raise unwritable(folder, error) from error


def prepare(report: Report, place: Path, *, single_file: bool = False) -> None:
    """Write the report's files into ``place`` and make them complete.

    As a single file, report.html holds the clips as well.
    """
    texts = {
        "report.md": markdown.render(report),
        "details.md": markdown.details(report),
        "report.html": html.render(report, place if single_file else None),
        "report.json": f"{to_json(report)}\n",
    }
    for name, text in texts.items():
        (place / name).write_text(text, encoding="utf-8")
    faders = fader_list(report)
    if faders and (place / FOLDER).is_dir():
        (place / FOLDER / FADERS).write_text(csv_text(faders), encoding="utf-8")
    history = report.history
    entry = None if history is None else Entry(history.project, history.number, report.mix.sha256)
    writer.prepare(place, [*_sounds(place), *texts], entry)


def _sounds(place: Path) -> list[str]:
    sounds = [f"{FOLDER}/{path.name}" for path in sorted((place / FOLDER).glob("*"))]
    return [*sounds, *(name for name in (PREVIEW,) if (place / name).is_file())]


def swap(folder: Path, place: Path) -> list[Path]:
    """Move a prepared report and its sounds into place.

    What an earlier report left to listen to goes, its preview master as well. A failure leaves everything that was there as it was.
    """
    names = [*_sounds(place), *REPORT]
    writer.swap(place, folder, names, [name for name in _earlier(folder) if name not in names])
    with suppress(OSError):
        (folder / FOLDER).rmdir()  # only when nothing is in it
    return [folder / name for name in names]


def write(report: Report, folder: Path, place: Path, *, single_file: bool = False) -> list[Path]:
    """Write a report that no history holds."""
    prepare(report, place, single_file=single_file)
    return swap(folder, place)


def write_text(name: str, document: MasterReport | Comparison, words: str, title: str, folder: Path) -> None:
    """Write a report without sounds into ``folder``.

    It is ``name``.json, .md and .html, all of them or none, and where the words have folds ``name``-details.md; raises `RequestError`.
    """
    texts = {
        f"{name}.md": shown_first(words),
        f"{name}.html": html.illustrated_page(document, title) if isinstance(document, MasterReport) else html.page(words, title),
    }
    more = folded(words)
    texts |= {f"{name}-details.md": f"# {plain(title)}: the details\n\n{more}"} if more else {}
    texts[f"{name}.json"] = f"{to_json(document)}\n"  # the last to be moved: it speaks of the others
    with aside(folder) as place:
        for file, text in texts.items():
            (place / file).write_text(text, encoding="utf-8")
        writer.prepare(place, list(texts))
        writer.swap(place, folder, list(texts))


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
    path = folder / REPORT[-1]
    try:
        if not path.is_file() or path.stat().st_size > MOST_REPORT_BYTES:
            return None
        value = json.loads(path.read_text(encoding="utf-8"))
        for key in keys:
            value = value[key]
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return None
    return value


def _ours(path: Path, earlier: object) -> bool:
    named = CLIP.fullmatch(path.name) or path.name == FADERS or (f"{FOLDER}/{path.name}" == earlier and MARKED.fullmatch(path.name))
    return bool(named) and not path.is_dir()


def unwritable(folder: Path, error: OSError) -> RequestError:
    """Return the error for a folder that refuses writing."""
    reason = error.strerror or str(error)
    more = ", free some space, or do without the clips (--no-audition)" if error.errno in (errno.ENOSPC, errno.EDQUOT) else ""
    return RequestError(f"The report cannot be written to {told(folder)} ({reason}). Choose another folder with --out{more}.")


def check_apart(mix: Path | None, folder: Path) -> None:
    """Refuse to write over the mix or through a link.

    What is there would be replaced; raises `RequestError`.
    """
    sounds = folder / FOLDER
    if sounds.is_symlink():
        raise RequestError(f"{told(sounds)} is a link to another place, where nothing may be replaced. Remove the link, or use --out.")
    if mix is not None and followed(mix).parent == followed(sounds):
        raise RequestError(
            f"{told(mix.name)} lies in {told(sounds)}, which this run would write anew. Choose another folder with --out, or move the file."
        )


def check_writable(folder: Path) -> None:
    """Check before the work that the folder takes files.

    Raises `RequestError`.
    """
    place = followed(folder)
    wanted = place
    while not is_there(place) and place != place.parent:
        place = place.parent
    if place == wanted and not place.is_dir():
        raise RequestError(f"{told(folder)} is a file, so no report can be written into it. Choose another folder with --out.")
    if not place.is_dir() or not os.access(place, os.W_OK | os.X_OK):
        raise RequestError(
            f"The report cannot be written to {told(folder)} (no permission in {told(place)}). Choose another folder with --out."
        )
