"""Says what comes next, and when it is done."""

from collections.abc import Iterator

from advisor.report.filling import filled
from advisor.report.sections.critique.front.moves import front_moves
from advisor.report_model.report import Report

PLACE = 40


def section(report: Report) -> Iterator[str]:
    """Yield the next steps."""
    return filled(__name__, steps=list(next_steps(report)))


def next_steps(report: Report) -> Iterator[str]:
    """Yield what to do next, sentence by sentence."""
    moves, stage = front_moves(report), report.mastering
    mixing = bool(report.plan) or (report.tried_on is None and any(card.stage == "mixing" for card in report.findings))
    if moves:
        project = f"--project '{report.history.project}'" if report.history else "--project NAME"
        what = "Make move 1 on a copy" if mixing else "Put the file right"
        yield f"{what}, bounce, and run it again with {project}; you are done when no move is left."
    elif report.verdict.ready:
        yield "The mix is done; master it."
    else:
        yield "Decide by ear what the cards below name."
    if stage is not None and stage.reaches_cleanly:
        yield f"Mastering, below, then reaches {stage.target_lufs:g} LUFS cleanly."
    elif stage is not None:
        yield f"Mastering ends cleanly at {stage.clean_lufs:.1f} LUFS so far."
