"""Mastering within a critique.

Finds the chain, renders the preview where it is asked for, and adds both to the document.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from advisor.app.errors import RequestError
from advisor.app.progress import Progress
from advisor.app.settings import Settings
from advisor.mastering.document import mastering_document
from advisor.mastering.render import render
from advisor.mastering.stage import Stage, mastering_stage
from advisor.measuring.measured import Failure, Measured
from advisor.planning.plan_document import Tried
from advisor.planning.song import Song


@dataclass(frozen=True, slots=True)
class MasteringOutcome:
    """What the mastering stage came to.

    Nothing at all with --quick.
    """

    stage: Stage | None = None
    after_plan: bool = False
    failures: tuple[Failure, ...] = field(default=())

    def add_to(self, report: dict[str, Any], settings: Settings, place: Path, progress: Progress) -> None:
        """Add the stage to the document.

        And the preview master to the files where it is asked for.
        """
        preview = None
        if settings.render and self.stage is not None:
            mastering = self.stage.found
            preview = render(self.stage.source, mastering.reached.chain, mastering.target_lufs, place, self.stage.song.densest, progress)
        report["mastering"] = mastering_document(self.stage, self.after_plan, settings, preview)
        report["failed"] += [{"rule": failure.family, "error": failure.error} for failure in self.failures]
        if settings.render and preview is None:
            report["notes"].append("No preview master was rendered, since no mastering chain could be found for this file")


def check_render(settings: Settings) -> None:
    """Refuse what cannot go together.

    Raises `RequestError`.
    """
    if settings.render and settings.quick:
        raise RequestError("With --quick nothing is tried, so there is no mastering chain to render. Leave out --quick or --render.")


def master(song: Song[Any], measured: Measured, tried: Tried | None, settings: Settings, progress: Progress) -> MasteringOutcome:
    """Find a mastering chain for the song after the plan."""
    stage, failures = mastering_stage(song, measured, tried, settings, progress)
    return MasteringOutcome(stage, tried is not None and tried.left is not None, failures)
