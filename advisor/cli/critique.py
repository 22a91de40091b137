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
        list[Path] | None,
        typer.Argument(
            help="The bounce of your mix: WAV, AIFF, FLAC, OGG, MP3 and more; or several songs, or a folder of them. "
            "With --stems it may be left out."
        ),
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
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the report (default: NAME-critique beside the mix); of several songs, for all of their folders."),
    ] = None,
    quick: Annotated[bool, typer.Option("--quick", help="Measure and judge only; try nothing on the audio.")] = False,
    no_audition: Annotated[
        bool, typer.Option("--no-audition", help="Write no clips of the steps and no copy of the mix with markers.")
    ] = False,
    single_file: Annotated[
        bool, typer.Option("--single-file", help="Put the clips into report.html too, so that the page can be sent on its own.")
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
    options: dict[str, float | bool | None] = {
        "target_lufs": target,
        "ceiling_dbtp": ceiling,
        "quick": quick,
        "audition": False if no_audition else None,
        "single_file": single_file or None,
        "render": render or None,
    }
    paths = mix or []
    if len(paths) > 1 or any(path.is_dir() for path in paths):
        from advisor.cli.several import Asked, critique_several

        return critique_several(Asked(paths, options, out, stems, project, references, fail_on), first_words)
    from advisor.app.settings import load_settings
    from advisor.critique import CritiqueInputs, critique

    only = paths[0] if paths else None
    settings = load_settings(settings_folders(only or stems or Path()), options)
    inputs = CritiqueInputs(stems, recorder(project), references, in_order(front))
    done = critique(only, settings, out, progress(), first_words(), inputs)
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
    """Print the verdict, first moves, and where the report is."""
    from advisor.report.sections.critique.front.moves import front_moves, no_fix, no_move

    show(report.verdict.sentence)
    if report.history is not None:
        _print_history(report.history)
    show()
    left = no_move(report)
    if left:
        show(left)
    for place, move in enumerate(front_moves(report), 1):
        where = f" (listen at {move.where})" if move.where else ""
        show(f"{place}. {move.title}{where}: {move.words}.{f' Brings: {move.brings}.' if move.brings else ''}")
    unmended = no_fix(report)
    if unmended:
        show(unmended)
    show()
    show(f"The report: {folder / 'report.html'} (as text: report.md and details.md; for scripts: report.json)")
    what = audible(report)
    if what:
        show(f"To listen to: {folder / FOLDER} ({what})")
    if report.mastering is not None and report.mastering.preview is not None:
        show(f"The preview master, to judge the chain by: {folder / report.mastering.preview.file}")


def _print_history(history: "HistorySection") -> None:
    from advisor.report.sections.critique.comparisons.since import since_lines

    for line in since_lines(history):
        show(line)


def audible(report: "Report") -> str:
    """Return in few words what there is to listen to.

    The text is empty where there is nothing.
    """
    clips = ["each step before and after"] if any(step.audition for step in report.plan) else []
    marked = ["your mix with a marker at every finding"] if report.audition else []
    return ", and ".join([*clips, *marked])
