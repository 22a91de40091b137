"""The main job on one page: load, measure, judge, try, plan, let hear, write."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from advisor.audition.document import NOTHING_TO_HEAR
from advisor.audition.make import make_audition
from advisor.audition.names import FOLDER
from advisor.config import Settings
from advisor.judge import Card, Judged, judge
from advisor.measure import measure
from advisor.progress import Progress, Quiet
from advisor.report import document, files
from advisor.report.tried import Tried
from advisor.trying import try_remedies
from advisor.verdict import verdict
from features.load import open_source


@dataclass(frozen=True, slots=True)
class Critique:
    """A finished critique: the document, what was judged, and where the report is."""

    report: dict[str, Any]
    judged: Judged
    folder: Path


def default_folder(mix: Path) -> Path:
    """Return the folder beside the mix that its report goes to."""
    return mix.with_name(f"{mix.stem}-critique")


def critique(
    mix: Path, settings: Settings, folder: Path | None = None, progress: Progress | None = None, first_words: str = ""
) -> Critique:
    """Critique one mix and write the report and what there is to listen to; ``first_words`` are said once the file is open."""
    show = progress or Quiet()
    folder = default_folder(mix) if folder is None else folder
    files.check_writable(folder)
    files.check_apart(mix, folder)
    show.step(f"Opening {mix.name}")
    with open_source(mix) as opened:
        if first_words:
            show.announce(first_words)
        measured = measure(opened.source, opened.file, lambda: opened.not_finite, settings, show)
        show.step("Judging")
        judged = judge(measured, settings)
        tried = None if settings.quick else try_remedies(opened.source, measured, judged, settings, show)
        with files.aside(folder) as place:
            heard = NOTHING_TO_HEAR
            if settings.audition:
                plan = None if tried is None else tried.plan
                heard = make_audition(opened.source, measured, judged, plan, place / FOLDER, show)
            said = verdict(dict(measured.records), judged, first_planned(tried))
            report = document.build(measured, judged, said, settings, opened.notes, tried, heard)
            show.step("Writing the report")
            files.write(report, folder, place)
    show.step("")
    return Critique(report, judged, folder)


def first_planned(tried: Tried | None) -> Card | None:
    """Return the card that the plan starts with."""
    return tried.plan.steps[0].trial.card if tried is not None and tried.plan.steps else None
