"""The mastering stage of a critique.

A chain found on the song as the plan leaves it, and the same moves set anew for the song as it is.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from advisor.app.progress import Progress
from advisor.app.settings import Settings
from advisor.mastering.bench import ChainBench, Premaster, Reached, premaster
from advisor.mastering.finding import Mastering, find_chain, refitted
from advisor.measuring.measured import Failure, Measured
from advisor.planning.plan_outcome import PlanOutcome
from advisor.planning.plan_section import along_the_song
from advisor.planning.song import Song
from features.sound.signal import Source


@dataclass(frozen=True, slots=True)
class Stage:
    """The chain found for the song after the plan.

    Without a plan, for the song as it is; with what of it holds as it is, and the mixing step worth most.
    """

    song: Premaster
    mastering: Mastering
    as_it_is: Reached | None
    worth_most: tuple[int, float] | None

    @property
    def source(self) -> Source:
        """What the chain is for."""
        return self.song.source


def mastering_stage(
    song: Song[Any], measured: Measured, tried: PlanOutcome | None, settings: Settings, progress: Progress
) -> tuple[Stage | None, tuple[Failure, ...]]:
    """Find a chain.

    A crash in here costs the chain, not the critique.
    """
    progress.step("Looking for a mastering chain")
    try:
        return _stage(song, measured, tried, settings), ()
    except Exception as error:  # noqa: BLE001 - told in the report
        return None, (Failure("mastering/chain", f"{type(error).__name__}: {error}"),)


def _stage(song: Song[Any], measured: Measured, tried: PlanOutcome | None, settings: Settings) -> Stage | None:
    left = None if tried is None else tried.left
    now = premaster(song.source, dict(measured.records), measured.trace)
    ready = now if left is None else premaster(left[0], dict(left[1].records), left[1].trace)
    if ready is None:
        return None
    mastering = find_chain(ready, settings.target_lufs, settings.ceiling_dbtp)
    as_it_is = None
    if left is not None and now is not None:
        as_it_is = refitted(ChainBench(now, settings.ceiling_dbtp), mastering.reached.chain, settings.target_lufs)
    return Stage(ready, mastering, as_it_is, None if tried is None else worth_most(tried))


def worth_most(tried: PlanOutcome) -> tuple[int, float] | None:
    """Return the mixing step that gains most clean loudness.

    Its number and the gain; None where no step gains any.
    """
    before = tried.whole_before.clean_lufs
    levels = along_the_song(tried)
    if before is None or any(level is None for level in levels):
        return None
    known = [before, *(level for level in levels if level is not None)]
    gains = [
        (after - first, number)
        for number, (first, after) in enumerate(pairwise(known), 1)
        if tried.plan.steps[number - 1].trial.card.rule.stage == "mixing"
    ]
    best = max(gains, default=(0.0, 0))
    return (best[1], best[0]) if best[0] > 0.0 else None
