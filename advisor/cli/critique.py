"""`mixproof critique`: the main job."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from advisor.audition.names import FOLDER
from advisor.cli.common import progress, settings_folders, show

if TYPE_CHECKING:
    from advisor.history.recorder import Recorder
    from advisor.report_model.history import HistorySection
    from advisor.report_model.report import Report


def command(  # noqa: PLR0913, PLR0917 - one parameter for each option
    mix: Annotated[
        Path | None, typer.Argument(help="The bounce of your mix: WAV, AIFF, FLAC, OGG, MP3 and more. With --stems it may be left out.")
    ] = None,
    stems: Annotated[Path | None, typer.Option(help="Folder of stems, one file for each element, all with the same start.")] = None,
    front: Annotated[
        str | None, typer.Option(help="Elements from the front to the back, with commas: lead,kick,bass. Levels are judged against it.")
    ] = None,
    project: Annotated[
        str | None, typer.Option(help="Record this bounce in the project of that name, and compare it with the one before.")
    ] = None,
    references: Annotated[
        str | None,
        typer.Option(help="Your own songs to compare with: a shelf, one group of it (SHELF:GROUP), or a folder; see mixproof references."),
    ] = None,
    target: Annotated[float | None, typer.Option(help="Loudness the master should reach, in LUFS (default -13).")] = None,
    ceiling: Annotated[float | None, typer.Option(help="Highest true peak of the master, in dBTP (default -1).")] = None,
    out: Annotated[Path | None, typer.Option(help="Folder for the report (default: NAME-critique beside the mix).")] = None,
    quick: Annotated[bool, typer.Option("--quick", help="Measure and judge only; try nothing on the audio.")] = False,
    no_audition: Annotated[
        bool, typer.Option("--no-audition", help="Write no clips of the steps and no copy of the mix with markers.")
    ] = False,
    render: Annotated[
        bool, typer.Option("--render", help="Write preview-master.wav: the song through the mastering chain that was found, at the target.")
    ] = False,
    fail_on: Annotated[
        Literal["mixing", "mastering", "delivery"] | None,
        typer.Option(help="End with status 1 when something is found in this stage (for scripts)."),
    ] = None,
) -> int:
    """Say what to fix for a loud, clear master."""
    from advisor.app.settings import load_settings

    options = {
        "target_lufs": target,
        "ceiling_dbtp": ceiling,
        "quick": quick,
        "audition": False if no_audition else None,
        "render": render or None,
    }
    settings = load_settings(settings_folders(mix or stems or Path()), options)
    from advisor.critique import CritiqueInputs, critique

    done = critique(mix, settings, out, progress(), first_words(), CritiqueInputs(stems, recorder(project), references, in_order(front)))
    print_summary(done.report, done.folder)
    return int(fail_on is not None and any(card.stage == fail_on for card in done.report.findings))


def in_order(front: str | None) -> tuple[str, ...]:
    """Return the names of an order stated with commas.

    >>> in_order("lead, kick"), in_order(None)
    (('lead', 'kick'), ())
    """
    return tuple(name.strip() for name in (front or "").split(",") if name.strip())


def recorder(project: str | None) -> "Recorder | None":
    """Return what records a bounce in the project.

    None without a project.
    """
    if project is None:
        return None
    from advisor.history.recorder import Recorder

    return Recorder(project, lambda: datetime.now(UTC))


def first_words() -> str:
    """Return why the first run takes longer. Nothing later on."""
    from advisor.cli.main import first_run

    return "First run on this machine: the measuring code is being prepared, once; this takes about half a minute." if first_run() else ""


def print_summary(report: "Report", folder: Path) -> None:
    """Print the verdict, the moves, and where the report is.

    The moves are the plan, or what to do first.
    """
    show(report.verdict.sentence)
    if report.history is not None:
        _print_history(report.history)
    if report.plan:
        show()
        show("The plan, each move tried on your audio:")
        for step in report.plan:
            stop = f"; {step.stop}" if step.stop else ""
            show(f"  {step.step}. {step.title}: {step.move}{stop}.{''.join(f' {caution}' for caution in step.careful)}")
    elif report.tried_on is None:
        _print_moves(report)
    _print_mastering(report, folder)
    for note in report.notes:
        show(f"Note: {note}")
    show()
    show(f"The whole critique: {folder / 'report.html'} (also report.md and report.json)")
    what = audible(report)
    if what:
        show(f"To listen to: {folder / FOLDER} ({what})")


def _print_mastering(report: "Report", folder: Path) -> None:
    from advisor.report.sections.critique.song.mastering import mastering_line

    line = mastering_line(report)
    if line:
        show()
        show(line)
    if line and report.mastering is not None and report.mastering.preview is not None:
        show(f"The preview master, to judge the chain by: {folder / report.mastering.preview.file}")


def _print_history(history: "HistorySection") -> None:
    from advisor.report.sections.critique.comparisons.since import since_lines

    show()
    for line in since_lines(history):
        show(line)


def audible(report: "Report") -> str:
    """Return in few words what there is to listen to.

    The text is empty where there is nothing.
    """
    clips = ["each step before and after"] if any(step.audition for step in report.plan) else []
    marked = ["your mix with a marker at every finding"] if report.audition else []
    return ", and ".join([*clips, *marked])


def _print_moves(report: "Report") -> None:
    moves = [card for card in report.findings if card.stage == "mixing"][:5]
    if moves:
        show()
        show("What to do first (measured, not yet tried on your audio):")
    for place, card in enumerate(moves, 1):
        show(f"  {place}. {card.title}: {card.advice}")
