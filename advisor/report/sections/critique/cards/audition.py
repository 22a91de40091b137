"""Tells what there is to listen to, and how."""

from collections.abc import Iterator

from advisor.app.words import span
from advisor.report.filling import filled
from advisor.report.sections.critique.front.moves import MOST_MOVES
from advisor.report_model.report import Report

PLACE = 140


def section(report: Report) -> Iterator[str]:
    """Yield the clips of each step and the marked copy."""
    clips = [step.audition for step in report.plan if step.audition]
    if clips or report.audition:
        yield from filled(
            __name__,
            steps=[(step, span(step.audition) if step.audition else "") for step in report.plan] if clips else (),
            as_wav=any(clip.after.endswith(".wav") for clip in clips),
            marked=report.audition,
            on_front=MOST_MOVES,
        )
