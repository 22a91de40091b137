"""The main job on one page.

Load, measure, judge, try, plan, master, let hear, write.
"""

from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

from advisor.app.paths import beside, followed
from advisor.app.progress import Progress, Quiet
from advisor.app.settings import Settings
from advisor.app.stopping import uninterrupted
from advisor.app.yardstick import yardstick_of
from advisor.audition.make import make_audition
from advisor.audition.names import ELSEWHERE, FOLDER
from advisor.audition.section import NOTHING_TO_HEAR
from advisor.elsewhere.section import NO_CLIPS, clips_of
from advisor.history.recorder import Recorder, has_bounce, recorded
from advisor.judging.judge import Judged, is_too_short, judge
from advisor.judging.verdict import verdict
from advisor.mastering.critiqued import MasteringOutcome, check_render, master
from advisor.material import attach_stems, fingerprints, lay_on_elements, notes_of, open_material
from advisor.measuring.measure import measure
from advisor.measuring.measured import Measured
from advisor.planning.plan_outcome import try_remedies
from advisor.references.choosing import choose
from advisor.references.comparing import compare_with_references
from advisor.report import files
from advisor.report.build import Tries, build, reported_finding
from advisor.report_model.references import ReferencesSection
from advisor.report_model.report import Report
from features.records.level import Level
from features.records.outlook import Outlook
from features.sound.opening.door import ordinary_file


@dataclass(frozen=True, slots=True)
class Critique:
    """A finished critique.

    The report, what was judged, and where the report is.
    """

    report: Report
    judged: Judged
    folder: Path


@dataclass(frozen=True, slots=True)
class CritiqueInputs:
    """What is given beside the mix.

    Its stems, the project it is recorded in, and the references (a shelf, SHELF:GROUP, or a folder).
    ``findings_first`` is a folder that gets a report before anything is tried.
    """

    stems: Path | None = None
    project: Recorder | None = None
    references: str | None = None
    front: tuple[str, ...] = ()
    findings_first: Path | None = None


MIX_ALONE = CritiqueInputs()


def default_folder(mix: Path | None, stems: Path | None = None) -> Path:
    """Return the folder that the report goes to.

    Beside the mix, or beside the stems where there is no mix.
    """
    if mix is not None:
        if not mix.name:
            ordinary_file(mix)  # refuses it: a root has no name that a report's could be made of
        return beside(mix.with_name(mix.stem), "-critique")
    return beside(followed(stems or Path()), "-critique")


def critique(
    mix: Path | None,
    settings: Settings,
    folder: Path | None = None,
    progress: Progress | None = None,
    first_words: str = "",
    inputs: CritiqueInputs = MIX_ALONE,
) -> Critique:
    """Critique one mix and write its report and clips.

    ``first_words`` are said once the file is open.
    Without a mix, the sum of the stems is the mix.
    """
    show = progress or Quiet()
    folder = default_folder(mix, inputs.stems) if folder is None else folder
    check_render(settings)
    files.check_writable(folder)
    files.check_apart(mix, folder)
    chosen = None if inputs.references is None else choose(inputs.references, show)
    with open_material(mix, inputs.stems, show, inputs.front) as material:
        if first_words:
            show.announce(first_words)
        measured = measure(material.source, material.file, material.not_finite, yardstick_of(settings), show)
        measured.require(Level, Outlook)
        compared = compare_with_references(chosen, measured, material.source, settings)
        yardstick = yardstick_of(settings, () if inputs.project is None else inputs.project.set_asides, compared.tone)
        measured, song = attach_stems(material, compared.measured, yardstick, show)
        show.step("Judging")
        judged = lay_on_elements(material, judge(measured, yardstick))
        if inputs.findings_first is not None:
            show.step("Writing the first findings")
            write_untried(measured, judged, settings, notes_of(material, judged), compared.section, inputs.findings_first)
        quick = settings.quick or is_too_short(measured.records)
        tried = None if quick else try_remedies(song, measured, judged, yardstick, show)
        stage = MasteringOutcome() if quick else master(song, measured, tried, settings, show)
        with files.aside(folder, has_bounce(inputs.project)) as place:
            audition, places = NOTHING_TO_HEAR, NO_CLIPS
            if settings.audition:
                plan = None if tried is None else tried.plan
                audition = make_audition(song, measured, judged, plan, place / FOLDER, show)
                show.step("Playing the song in other places")
                places = clips_of(song.source, measured, yardstick.listening.conditions, place / ELSEWHERE)
            said = verdict(dict(measured.records), judged)
            tries = Tries(tried, audition, stage.part(settings, place, show), places)
            report = build(measured, judged, said, settings, notes_of(material, judged), tries, compared.section)
            show.step("Writing the report")
            aside = tuple(reported_finding(card.rule, card.finding) for card in judged.set_aside)
            recording = recorded(report, aside, inputs.project, fingerprints(song))
            whole = write_recorded(recording, folder, place, single_file=settings.single_file)
    show.step("")
    return Critique(whole, judged, folder)


def write_recorded(recording: AbstractContextManager[Report], folder: Path, place: Path, *, single_file: bool = False) -> Report:
    """Record a report, move it into place, and return it.

    It is complete on the disk before it is recorded, and moved after: whatever ends the run between, the next one goes on from what
    the history holds.
    """
    with ExitStack() as writing:
        with recording as whole:
            files.prepare(whole, place, single_file=single_file)
            writing.enter_context(uninterrupted())
        files.swap(folder, place)
    return whole


def write_untried(
    measured: Measured, judged: Judged, settings: Settings, notes: tuple[str, ...], references: ReferencesSection | None, folder: Path
) -> None:
    """Write what is known before anything is tried."""
    untried = replace(settings, quick=True, audition=False, render=False)
    early = build(measured, judged, verdict(dict(measured.records), judged), untried, notes, references=references)
    with files.aside(folder) as place:
        files.prepare(early, place)
        files.swap(folder, place)
