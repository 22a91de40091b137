"""What there is to listen to, in report.md: the clips of each step and the marked copy; report.html makes players of the links."""

import re
from collections.abc import Iterator, Sequence

from advisor.app.words import number, plain, span
from advisor.report_model.plan import MarkedMix, PlanStep
from advisor.report_model.report import Report

LINK = re.compile(r"audition/[A-Za-z0-9][A-Za-z0-9._-]*")  # nothing else is linked to, whatever a document says


def audition_text(report: Report) -> Iterator[str]:
    """Write where to listen, and how; nothing when there is nothing."""
    steps = [step for step in report.plan if step.audition]
    marked = report.audition
    if not steps and not marked:
        return
    yield "## Listen"
    yield ""
    if steps:
        yield from _clips(report.plan)
    if marked:
        yield from _marked(marked)


def _clips(plan: Sequence[PlanStep]) -> Iterator[str]:
    yield (
        "Each step before and after, where its finding is plainest, with the steps before it in place. Both clips of a step are equally "
        "loud, so that louder does not pass for better, and never louder than your mix is there. Keep the listening level moderate, and "
        "stop when your ears tire: they judge worse then, and need the rest."
        + (" The clips are WAV files, since FLAC does not know this sampling rate." if _as_wav(plan) else "")
    )
    yield ""
    for step in plan:
        yield f"- **Step {step.step}: {plain(step.title)}** {_step(step)}"
    yield ""


def _as_wav(plan: Sequence[PlanStep]) -> bool:
    return any(step.audition is not None and step.audition.after.endswith(".wav") for step in plan)


def _step(step: PlanStep) -> str:
    clips = step.audition
    if not clips:
        return "has no clips: there is next to nothing to hear at its place."
    about = f"at {span(clips)}, {number(clips.lufs)} LUFS: {plain(step.move)}."
    if clips.same:
        return (
            f"{about} Both clips are the same sound once they are equally loud, so there is nothing to compare: at this place "
            f"the move changes the level at most. {_link('the clip', clips.after)}"
        )
    return f"{about} {_link('before', clips.before)} {_link('after', clips.after)}"


def _marked(marked: MarkedMix) -> Iterator[str]:
    many = "the one finding" if marked.cues == 1 else f"each of the {marked.cues} findings"
    yield (
        f"A copy of your mix, {_link(plain(marked.marked_mix), marked.marked_mix)}, carries a marker at {many}, at the place where "
        "it is plainest (at the start where it concerns the whole song). Open it in your workstation: nothing in the sound differs."
    )
    yield ""


def _link(words: str, target: str) -> str:
    return f"[{words}]({target})" if LINK.fullmatch(target) else words
