"""`mixproof critique`: the main job."""

from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from advisor.audition.names import FOLDER
from advisor.cli.common import progress, settings_folders, show


def command(
    mix: Annotated[Path, typer.Argument(help="The bounce of your mix: WAV, AIFF, FLAC, OGG, MP3 and more.")],
    target: Annotated[float | None, typer.Option(help="Loudness the master should reach, in LUFS (default -13).")] = None,
    ceiling: Annotated[float | None, typer.Option(help="Highest true peak of the master, in dBTP (default -1).")] = None,
    out: Annotated[Path | None, typer.Option(help="Folder for the report (default: NAME-critique beside the mix).")] = None,
    quick: Annotated[bool, typer.Option("--quick", help="Measure and judge only; try nothing on the audio.")] = False,
    no_audition: Annotated[
        bool, typer.Option("--no-audition", help="Write no clips of the steps and no copy of the mix with markers.")
    ] = False,
    fail_on: Annotated[
        Literal["mixing", "mastering", "delivery"] | None,
        typer.Option(help="End with status 1 when something is found in this stage (for scripts)."),
    ] = None,
) -> int:
    """Say what stands between this mix and a loud, clear, undamaged master."""
    from advisor.config import load_settings  # noqa: PLC0415 - keeps --help quick

    options = {"target_lufs": target, "ceiling_dbtp": ceiling, "quick": quick, "audition": False if no_audition else None}
    settings = load_settings(settings_folders(mix), options)
    from advisor.critique import critique  # noqa: PLC0415

    done = critique(mix, settings, out, progress(), first_words())
    print_summary(done.report, done.folder)
    return int(fail_on is not None and any(one["stage"] == fail_on for one in done.report["findings"]))


def first_words() -> str:
    """Return why the first run takes longer; nothing later on."""
    from advisor.cli.main import first_run  # noqa: PLC0415

    return "First run on this machine: the measuring code is being prepared, once; this takes about half a minute." if first_run() else ""


def print_summary(report: dict[str, Any], folder: Path) -> None:
    """Print the verdict, the plan or what to do first, and where the report is."""
    show(report["verdict"]["sentence"])
    if report["plan"]:
        show()
        show("The plan, each move tried on your audio:")
        for step in report["plan"]:
            stop = f"; {step['stop']}" if step["stop"] else ""
            show(f"  {step['step']}. {step['title']}: {step['move']}{stop}.")
    elif report["tried_on"] is None:
        _print_moves(report)
    for note in report["notes"]:
        show(f"Note: {note}")
    show()
    show(f"The whole critique: {folder / 'report.html'} (also report.md and report.json)")
    what = audible(report)
    if what:
        show(f"To listen to: {folder / FOLDER} ({what})")


def audible(report: dict[str, Any]) -> str:
    """Return what there is to listen to, in a few words; nothing for nothing."""
    clips = ["each step before and after"] if any(step["audition"] for step in report["plan"]) else []
    marked = ["your mix with a marker at every finding"] if report["audition"] else []
    return ", and ".join([*clips, *marked])


def _print_moves(report: dict[str, Any]) -> None:
    moves = [one for one in report["findings"] if one["stage"] == "mixing"][:5]
    if moves:
        show()
        show("What to do first (measured, not yet tried on your audio):")
    for place, one in enumerate(moves, 1):
        show(f"  {place}. {one['title']}: {one['advice']}")
