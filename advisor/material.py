"""What a critique has in front of it.

The mix, its stems where they are given, and from them the song that remedies are tried on.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from advisor.app.errors import RequestError
from advisor.app.progress import Progress
from advisor.app.yardstick import Yardstick
from advisor.judging.judge import Judged
from advisor.measuring.measured import Failure, Measured
from advisor.planning.song import MixedSong, Song
from advisor.stems.attributing import attributed, meant_words, without_meant
from advisor.stems.folder import OpenedStems, open_stems
from advisor.stems.measuring import measure_stems, trace_song
from advisor.stems.song import StemmedSong
from features.elements.fingerprint import Fingerprint
from features.records.elements import Elements
from features.records.file import File
from features.sound.load import open_source
from features.sound.signal import Source


@dataclass(frozen=True, slots=True)
class Material:
    """An open song.

    The mix (or the sum of the stems where there is none), and its stems.
    """

    source: Source
    file: File
    notes: tuple[str, ...]
    not_finite: Callable[[], int]
    stems: OpenedStems | None


@contextmanager
def open_material(mix: Path | None, stems: Path | None, progress: Progress, front: tuple[str, ...] = ()) -> Iterator[Material]:
    """Open the mix, its stems, or both.

    Raises `RequestError` or `LoadError` with one plain sentence.
    """
    if mix is not None:
        progress.step(f"Opening {mix.name}")
        with open_source(mix) as opened:
            if stems is None:
                yield Material(opened.source, opened.file, opened.notes, lambda: opened.not_finite, None)
                return
            with open_stems(stems, opened, progress, mix_path=mix, front=front) as beside:
                yield Material(opened.source, opened.file, (*opened.notes, *beside.notes), lambda: opened.not_finite, beside)
        return
    if stems is None:
        message = (
            "There is nothing to critique. Give the bounce of your mix, or the folder of its stems with --stems; "
            "`mixproof critique --help` says more."
        )
        raise RequestError(message)
    with open_stems(stems, None, progress, front=front) as alone:
        yield Material(alone.sum_source, alone.sum_file, alone.notes, lambda: 0, alone)


def attach_stems(material: Material, measured: Measured, yardstick: Yardstick, progress: Progress) -> tuple[Measured, Song[Any]]:
    """Add the stems' records to what was measured.

    It is returned with the song that remedies are tried on.
    A crash in here costs what the stems would have told, not the critique.
    """
    if material.stems is None:
        return measured, MixedSong(material.source, measured, yardstick)
    try:
        traces = trace_song(material.stems, material.source, progress)
        elements = measure_stems(material.stems, material.source, traces, measured.records, yardstick, progress)
    except Exception as error:  # noqa: BLE001 - told in the report
        failed = replace(measured, failures=(*measured.failures, Failure("elements", f"{type(error).__name__}: {error}")))
        return failed, MixedSong(material.source, failed, yardstick)
    complete = replace(measured, records={**measured.records, Elements: elements})
    return complete, StemmedSong(material.source, material.stems, traces, complete, yardstick)


def lay_on_elements(material: Material, judged: Judged) -> Judged:
    """Lay each finding about the mix on elements.

    Without stems what was judged stays as it is.

    A crash in here costs these shares, not the critique.
    """
    if material.stems is None:
        return judged
    parts = {stem.name: stem.source for stem in material.stems.stems if not stem.identity.silent}
    try:
        return without_meant(attributed(judged, parts, material.source), material.stems.settings.meant)
    except Exception as error:  # noqa: BLE001 - told in the report
        return replace(judged, failed=(*judged.failed, ("measurement/attribution", f"{type(error).__name__}: {error}")))


def fingerprints(song: Song[Any]) -> tuple[Fingerprint, ...]:
    """Return what is kept of elements until the next bounce.

    Nothing without stems.
    """
    return song.fingerprints() if isinstance(song, StemmedSong) else ()


def notes_of(material: Material, judged: Judged) -> tuple[str, ...]:
    """Return the notes on files and on what is meant."""
    meant = frozenset[str]() if material.stems is None else material.stems.settings.meant
    return (*material.notes, *meant_words(judged, meant))
