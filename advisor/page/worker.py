"""The worker, which does a run.

It has a process of its own, so that the page stays, ends with the server that started it, and says what it refuses in a file.
"""

import os
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread

from platformdirs import user_config_path

from advisor.app.errors import RequestError
from advisor.app.settings import Settings, load_settings
from advisor.compare import files as compare_files
from advisor.compare.compare import compare, measured_pair
from advisor.critique import CritiqueInputs, critique
from advisor.history.recorder import Recorder
from advisor.master_check import files as master_files
from advisor.master_check.check import check_master
from advisor.page.progress import FileProgress
from advisor.page.runs import FIRST, REFUSAL, REFUSED, REPORT, Run, Runs
from features.sound.load import LoadError


def main(folder: Path) -> int:
    """Do the run of a folder. Return the exit status."""
    Thread(target=_end_with_parent, daemon=True).start()
    runs = Runs(folder.parent)
    run = runs.get(folder.name)
    if run is None:
        return REFUSED
    try:
        _do(run, folder, FileProgress(folder, time.time))
    except (RequestError, LoadError) as error:
        (folder / REFUSAL).write_text(str(error), encoding="utf-8")
        return REFUSED
    return 0


def _end_with_parent() -> None:
    """End when the server that holds the other end of the pipe does."""
    while os.read(sys.stdin.fileno(), 1):
        pass
    os._exit(1)


def _do(run: Run, folder: Path, progress: FileProgress) -> None:
    asked = run.asked
    given = {"target_lufs": asked.target_lufs, "quick": asked.quick or None, "render": asked.render or None}
    settings = load_settings([user_config_path("mixproof"), *([Path(run.mix).parent] if run.mix is not None else [])], given)
    report = folder / REPORT
    if asked.kind == "compare":
        earlier, later = _only(folder / "earlier"), _only(folder / "later")
        compare_files.write(compare(measured_pair(earlier, later, settings, progress)), report)
    elif asked.kind == "master":
        mix = _only(folder / "mix") if (folder / "mix").is_dir() else None
        master_files.write(check_master(_only(folder / "master"), mix, settings, progress).report, report)
    else:
        _critique(run, folder, settings, progress)
    progress.step("")


def _critique(run: Run, folder: Path, settings: Settings, progress: FileProgress) -> None:
    mix, stems = _material(run, folder)
    project = None if run.asked.project is None else Recorder(run.asked.project, lambda: datetime.now(UTC))
    first = None if settings.quick else folder / FIRST
    inputs = CritiqueInputs(stems, project, run.asked.references, findings_first=first)
    critique(mix, replace(settings, single_file=False), folder / REPORT, progress, inputs=inputs)


def _material(run: Run, folder: Path) -> tuple[Path | None, Path | None]:
    """Return the mix and the folder of stems, uploaded or watched."""
    if run.mix is not None:
        return Path(run.mix), None if run.stems is None else Path(run.stems)
    stems = folder / "stems" if (folder / "stems").is_dir() else None
    return _only(folder / "mix") if (folder / "mix").is_dir() else None, stems


def _only(folder: Path) -> Path:
    return next(path for path in folder.iterdir() if not path.name.startswith("."))


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
