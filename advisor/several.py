"""Finds several songs, and writes the page to their reports."""

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from advisor.app.errors import RequestError
from advisor.app.words import lowered, number
from advisor.critique import Critique, default_folder
from advisor.report import html
from advisor.report.files import unwritable
from advisor.report.filling import environment
from advisor.report_model.report import Report
from features.sound.opening.formats import SOUND_ENDINGS

INDEX = "critiques.html"
FEW = 3


@dataclass(frozen=True, slots=True)
class Song:
    """A song with its report, or why there is none."""

    mix: Path
    critique: Critique | None = None
    refused: str = ""


def songs_in(paths: Sequence[Path]) -> list[Path]:
    """Return the sound files among paths and folders, each once.

    Deeper folders are not looked into: reports and stems lie there. Raises `RequestError`.
    """
    chosen: list[Path] = []
    for path in paths:
        chosen += _inside(path) if path.is_dir() else [path]
    return list(dict.fromkeys(chosen))


def _inside(folder: Path) -> list[Path]:
    try:
        files = [path for path in folder.iterdir() if path.suffix.lower() in SOUND_ENDINGS and not path.name.startswith(".")]
    except OSError as error:
        raise RequestError(f"The folder “{folder}” may not be listed ({error.strerror}); change its permissions.") from None
    if not files:
        raise RequestError(f"The folder “{folder}” holds no sound file, so there is nothing to critique; give the path of a bounce.")
    return sorted(files, key=lambda path: (path.name.lower(), path.name))


def like_stems(songs: Sequence[Path]) -> bool:
    """Whether files share folder and size, as stems do."""
    sizes = {song.stat().st_size for song in songs if song.is_file()}
    return len(songs) >= FEW and len({song.parent for song in songs}) == len(sizes) == 1


def folders_of(songs: Sequence[Path], out: Path | None) -> list[Path]:
    """Return a folder for the report on each song."""
    folders: list[Path] = []
    for song in songs:
        usual = default_folder(song)
        folder = usual if out is None else out / usual.name
        folders.append(folder if folder not in folders else folder.with_name(f"{song.name}-critique"))
    return folders


def in_a_line(report: Report) -> str:
    """Say how loud a song goes, and where to start."""
    if report.outlook is None or report.outlook.clean_lufs is None:
        return report.verdict.sentence
    return f"can be limited to {loudest(report)} before the limiter is heard; {lowered(start(report))}."


def loudest(report: Report) -> str:
    """Return how loud the song can go cleanly, in words.

    The unit comes with it.
    """
    return number(None if report.outlook is None else report.outlook.clean_lufs, unit="LUFS")


def start(report: Report) -> str:
    """Say what to start with, where anything is advised."""
    if report.plan:
        return f"Start with: {lowered(report.plan[0].title)}"
    first = next((card.title for card in report.findings if card.stage == "mixing"), "")
    if not first:
        return "No fault was found in the mix"
    advised = "No move is advised; check by ear" if report.tried_on is not None else "Start with"
    return f"{advised}: {lowered(first)}"


def write_index(songs: Sequence[Song], folder: Path) -> Path:
    """Write and return the page that leads to reports.

    Raises `RequestError`.
    """
    path = folder / INDEX
    text = (
        environment()
        .get_template("index.md")
        .render(songs=list(_rows(songs, folder)), refused=[song.refused for song in songs if song.refused])
    )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path.write_text(html.page(text, "Critiques"), encoding="utf-8")
    except OSError as error:
        raise unwritable(folder, error) from error
    return path


def _rows(songs: Sequence[Song], folder: Path) -> Iterator[tuple[str, str, str, str]]:
    """Yield each song's name, its report's address, its loudness and start."""
    for song in songs:
        if song.critique is not None:
            report = os.path.relpath(song.critique.folder / "report.html", folder)
            yield song.mix.name, quote(Path(report).as_posix()), loudest(song.critique.report), start(song.critique.report)
