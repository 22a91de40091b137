"""The plan as steps of room, audibility and tone."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import accumulate

from advisor.pictures.colours import QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import SMALL, Sheet, shortened
from advisor.report_model.plan import PlanStep, StepOutcomes
from advisor.report_model.report import Report

LEFT, TOP, HEIGHT, WIDTH, GAP, LINE = 8.0, 34.0, 72.0, 102.0, 18.0, 15.0
SEVERAL = 2
LEAST_SPAN = 2.0
MOST_LETTERS = 60


@dataclass(frozen=True, slots=True)
class Gain:
    """An outcome that a plan gains, with its unit."""

    name: str
    unit: str
    of: Callable[[StepOutcomes], float | None]


GAINS = (
    Gain("room", "LU", lambda outcomes: outcomes.room_lu),
    Gain("audibility", "steps", lambda outcomes: outcomes.audibility),
    Gain("tone", "steps", lambda outcomes: outcomes.tone),
)


def draw(report: Report) -> Drawn | None:
    """Draw the gains as stairs.

    One step alone needs no picture.
    """
    steps = [(step, step.outcomes) for step in report.plan if step.outcomes is not None]
    if len(steps) < SEVERAL:
        return None
    stairs = [
        (gain, list(accumulate((gain.of(outcomes) or 0.0 for _, outcomes in steps), initial=0.0)))
        for gain in GAINS
        if any(gain.of(outcomes) is not None for _, outcomes in steps)
    ]
    if not stairs:
        return None
    return Drawn(_sheet(stairs, [step for step, _ in steps]), _caption(), _alternative(stairs, [step for step, _ in steps]))


Stairs = list[tuple[Gain, list[float]]]


def _sheet(stairs: Stairs, steps: list[PlanStep]) -> Sheet:
    sheet = Sheet(TOP + HEIGHT + 28.0 + LINE * len(steps))
    highest = max(LEAST_SPAN, *(max(heights) for _, heights in stairs)) + 0.3
    lowest = min(0.0, *(min(heights) for _, heights in stairs)) - 0.3
    for column, (gain, heights) in enumerate(stairs):
        left = LEFT + column * (WIDTH + GAP)
        axes = sheet.axes(left, TOP, WIDTH, HEIGHT)
        axes.set_xlim(0.0, len(steps) + 1.0)
        axes.set_ylim(lowest, highest)
        axes.set_yticks([])
        axes.spines["bottom"].set_visible(False)
        axes.set_xticks([place + 0.5 for place in range(len(steps) + 1)], ["now", *(str(step.step) for step in steps)])
        axes.axhline(0.0, color=QUIET.light, linewidth=0.8)
        axes.fill_between(range(len(steps) + 2), [*heights, heights[-1]], step="post", facecolor=SONG.light, alpha=0.18, linewidth=0)
        axes.step(range(len(steps) + 2), [*heights, heights[-1]], where="post", color=SONG.light, linewidth=2.0)
        sheet.words(left, 12.0, gain.name)
        sheet.words(left, 26.0, f"{heights[-1]:+.1f} {gain.unit}", SONG.light)
    for line, step in enumerate(steps):
        sheet.words(LEFT, TOP + HEIGHT + 34.0 + LINE * line, shortened(f"{step.step}  {step.title}", MOST_LETTERS), size=SMALL)
    return sheet


def _caption() -> str:
    return (
        "Each stair is one move, with the moves before it in place; up is gained, down is lost. "
        "Room is clean loudness; a step of audibility or tone is about what a listener just notices."
    )


def _alternative(stairs: Stairs, steps: list[PlanStep]) -> str:
    moves = []
    for place, step in enumerate(steps):
        gained = ", ".join(f"{gain.name} {heights[place + 1] - heights[place]:+.1f} {gain.unit}" for gain, heights in stairs)
        moves.append(f"{step.step}. {step.title}: {gained}.")
    together = ", ".join(f"{gain.name} {heights[-1]:+.1f} {gain.unit}" for gain, heights in stairs)
    return f"What the plan brings. {' '.join(moves)} Together: {together}."


KIND = PictureKind(place=40, section="plan", draw=draw)
