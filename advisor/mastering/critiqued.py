"""Mastering within a critique.

The chain, the preview where it is asked for, and the report's part.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from advisor.app.errors import RequestError
from advisor.app.progress import Progress
from advisor.app.settings import Settings
from advisor.mastering.render import render
from advisor.mastering.section import mastering_section
from advisor.mastering.stage import Stage, mastering_stage
from advisor.measuring.measured import Failure, Measured
from advisor.planning.plan_outcome import PlanOutcome
from advisor.planning.song import Song
from advisor.report_model.mastering import MasteringSection

NO_PREVIEW = "No preview master was rendered, since no mastering chain could be found for this file"


@dataclass(frozen=True, slots=True)
class MasteringPart:
    """What a report says about mastering.

    With what crashed on the way, and what the reader should know.
    """

    section: MasteringSection | None = None
    failures: tuple[Failure, ...] = ()
    notes: tuple[str, ...] = ()


NO_MASTERING = MasteringPart()


@dataclass(frozen=True, slots=True)
class MasteringOutcome:
    """What the mastering stage came to.

    Nothing at all with --quick.
    """

    stage: Stage | None = None
    after_plan: bool = False
    failures: tuple[Failure, ...] = ()

    def part(self, settings: Settings, place: Path, progress: Progress) -> MasteringPart:
        """Return the report's part, and render the preview master.

        It is rendered into ``place``, where it is asked for.
        """
        preview = None
        if settings.render and self.stage is not None:
            mastering = self.stage.mastering
            preview = render(self.stage.source, mastering.reached.chain, mastering.target_lufs, place, self.stage.song.densest, progress)
        notes = (NO_PREVIEW,) if settings.render and preview is None else ()
        return MasteringPart(mastering_section(self.stage, self.after_plan, settings, preview), self.failures, notes)


def check_render(settings: Settings) -> None:
    """Refuse what cannot go together. Raises `RequestError`."""
    if settings.render and settings.quick:
        raise RequestError("With --quick nothing is tried, so there is no mastering chain to render. Leave out --quick or --render.")


def master(song: Song[Any], measured: Measured, tried: PlanOutcome | None, settings: Settings, progress: Progress) -> MasteringOutcome:
    """Find a mastering chain for the song after its plan."""
    stage, failures = mastering_stage(song, measured, tried, settings, progress)
    return MasteringOutcome(stage, tried is not None and tried.left is not None, failures)
