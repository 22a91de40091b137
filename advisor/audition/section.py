"""What there is to listen to.

As it stands in the report; paths are relative to it.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest

from advisor.audition.names import FOLDER
from advisor.audition.records import Audition, Clips
from advisor.report_model.plan import MarkedMix, PlanStep, StepClips

NOTHING_TO_HEAR = Audition()


def with_clips(plan: Sequence[PlanStep], audition: Audition) -> tuple[PlanStep, ...]:
    """Return the plan's steps, each with its clips or None."""
    return tuple(
        replace(step, audition=None if clips is None else _step_clips(clips))
        for step, clips in zip_longest(plan, audition.clips[: len(plan)])
        if step is not None
    )


def _step_clips(clips: Clips) -> StepClips:
    before, after = f"{FOLDER}/{clips.before}", f"{FOLDER}/{clips.after}"
    return StepClips(before, after, clips.start_s, clips.end_s, clips.lufs, clips.same)


def marked_mix(audition: Audition) -> MarkedMix | None:
    """Return where the marked copy is, and its markers' count."""
    return None if audition.marked is None else MarkedMix(f"{FOLDER}/{audition.marked}", audition.cues)
