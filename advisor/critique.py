"""The main job on one page.

Load, measure, judge, try, plan, master, let hear, write.
"""

from dataclasses import dataclass, replace
from pathlib import Path

from advisor.app.progress import Progress, Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.audition.make import make_audition
from advisor.audition.names import FOLDER
from advisor.audition.section import NOTHING_TO_HEAR
from advisor.history.recorder import Recorder, recorded
from advisor.judging.judge import Judged, judge
from advisor.judging.verdict import verdict
from advisor.mastering.critiqued import MasteringOutcome, check_render, master
from advisor.material import attach_stems, open_material
from advisor.measuring.measure import measure
from advisor.planning.plan_outcome import try_remedies
from advisor.references.choosing import choose
from advisor.references.comparing import compare_with_references
from advisor.report import files
from advisor.report.build import Tries, build, reported_finding
from advisor.report_model.report import Report


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
    findings_first: Path | None = None


MIX_ALONE = CritiqueInputs()


def default_folder(mix: Path | None, stems: Path | None = None) -> Path:
    """Return the folder that the report goes to.

    Beside the mix, or beside the stems where there is no mix.
    """
    if mix is not None:
        return mix.with_name(f"{mix.stem}-critique")
    whole = (stems or Path()).absolute()
    return whole.with_name(f"{whole.name}-critique")


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
    if mix is not None:
        files.check_apart(mix, folder)
    chosen = None if inputs.references is None else choose(inputs.references, show)
    with open_material(mix, inputs.stems, show) as material:
        if first_words:
            show.announce(first_words)
        measured = measure(material.source, material.file, material.not_finite, yardstick_of(settings), show)
        compared = compare_with_references(chosen, measured, material.source, settings)
        yardstick = yardstick_of(settings, () if inputs.project is None else inputs.project.set_asides, compared.tone)
        measured, song = attach_stems(material, compared.measured, yardstick, show)
        show.step("Judging")
        judged = judge(measured, yardstick)
        if inputs.findings_first is not None:
            untried = replace(settings, quick=True, audition=False)
            early = build(measured, judged, verdict(dict(measured.records), judged), untried, material.notes, references=compared.section)
            with files.aside(inputs.findings_first) as place:
                files.write(early, inputs.findings_first, place)
        tried = None if settings.quick else try_remedies(song, measured, judged, yardstick, show)
        stage = MasteringOutcome() if settings.quick else master(song, measured, tried, settings, show)
        with files.aside(folder) as place:
            audition = NOTHING_TO_HEAR
            if settings.audition:
                plan = None if tried is None else tried.plan
                audition = make_audition(song, measured, judged, plan, place / FOLDER, show)
            said = verdict(dict(measured.records), judged)
            tries = Tries(tried, audition, stage.part(settings, place, show))
            report = build(measured, judged, said, settings, material.notes, tries, compared.section)
            show.step("Writing the report")
            aside = tuple(reported_finding(card.rule, card.finding) for card in judged.set_aside)
            with recorded(report, aside, inputs.project) as whole:
                files.write(whole, folder, place, single_file=settings.single_file)
    show.step("")
    return Critique(whole, judged, folder)
