"""Several songs at once: a line each, and their page.

A song that cannot be read costs a sentence, and not the rest.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.app.history_words import shown
from advisor.app.progress import Progress
from advisor.app.settings import load_settings
from advisor.cli.common import progress, refusal, settings_folders, show
from advisor.cli.ending import CANNOT, INTERRUPTED
from advisor.critique import CritiqueInputs, critique
from advisor.several import Song, folders_of, in_a_line, like_stems, songs_in, write_index


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command line asks for."""

    paths: list[Path]
    options: Mapping[str, float | bool | None]
    out: Path | None
    stems: Path | None
    project: str | None
    references: str | None
    fail_on: str | None


def critique_several(asked: Asked, first_words: Callable[[], str]) -> int:
    """Critique the songs and return the worst status.

    ``first_words`` are said where the first run takes longer.
    """
    if asked.stems is not None:
        raise RequestError("--stems belongs to one mix, and several were given. Critique them one at a time.")
    if asked.project is not None:
        raise RequestError("--project keeps the bounces of one song, and several were given. Critique them one at a time.")
    mixes, line = songs_in(asked.paths), progress()
    if like_stems(mixes):
        line.announce("All files have one length. If they are the stems of one song, stop here and give their folder with --stems.")
    finished, status = list[Song](), 0
    try:
        for song in _critiqued(mixes, asked, first_words, line):
            finished.append(song)
            status = max(status, _told(song, asked.fail_on, line))
    except KeyboardInterrupt:
        line.announce(f"Stopped. What was finished stays: {len(finished)} of {len(mixes)}.")
        status = INTERRUPTED
    show()
    show(f"All reports: {write_index(finished, asked.out or mixes[0].parent)}")
    return status


def _critiqued(mixes: list[Path], asked: Asked, first_words: Callable[[], str], line: Progress) -> Iterator[Song]:
    inputs = CritiqueInputs(references=asked.references)
    for mix, folder in zip(mixes, folders_of(mixes, asked.out), strict=True):
        try:
            settings = load_settings(settings_folders(mix), asked.options)
            yield Song(mix, critique(mix, settings, folder, line, first_words(), inputs))
        except Exception as error:
            words = refusal(error)
            if words is None:
                raise
            line.step("")
            yield Song(mix, refused=words)


def _told(song: Song, fail_on: str | None, line: Progress) -> int:
    """Print a song's line and return its status."""
    if song.critique is None:
        line.announce(song.refused)
        return CANNOT
    show(f"{shown(song.mix.name)}: {in_a_line(song.critique.report)}")
    return int(any(card.stage == fail_on for card in song.critique.report.findings))
