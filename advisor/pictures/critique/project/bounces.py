"""The course of a project over its bounces."""

from collections.abc import Sequence

from advisor.app.words import number
from advisor.pictures.colours import INK, MARK, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import DASHED, RIGHT, SMALL, Sheet
from advisor.report_model.history import CoursePoint
from advisor.report_model.report import Report

LEFT, UPPER, LOWER = 40.0, 76.0, 54.0
WIDTH = RIGHT - LEFT
SEVERAL = 2
MOST_BOUNCES = 24


def draw(report: Report) -> Drawn | None:
    """Draw the bounces in their order.

    One alone has no course.
    """
    course = () if report.history is None else report.history.course
    if len(course) < SEVERAL:
        return None
    points = course[-MOST_BOUNCES:]
    target = report.settings.target_lufs
    return Drawn(_sheet(points, target), _caption(points), _alternative(points, target))


def _sheet(points: Sequence[CoursePoint], target_lufs: float) -> Sheet:
    sheet = Sheet(20.0 + UPPER + 34.0 + LOWER + 24.0)
    numbers = [point.number for point in points]
    loud = [float("nan") if point.clean_lufs is None else point.clean_lufs for point in points]
    marked = [target_lufs, *(point.clean_lufs for point in points if point.clean_lufs is not None)]
    upper, lower = sheet.axes(LEFT, 20.0, WIDTH, UPPER), sheet.axes(LEFT, 20.0 + UPPER + 34.0, WIDTH, LOWER)
    upper.set_ylim(min(marked) - 0.6, max(marked) + 0.6)
    upper.set_yticks([target_lufs], [number(target_lufs)])
    upper.axhline(target_lufs, color=INK.light, linewidth=0.9, linestyle=DASHED)
    lower.set_ylim(0.0, max(1.0, *(point.excess for point in points)) * 1.15)
    lower.set_yticks([])
    for axes, values, colour in ((upper, loud, SONG.light), (lower, [point.excess for point in points], MARK.light)):
        axes.set_xlim(numbers[0] - 0.5, numbers[-1] + 0.5)
        axes.set_xticks(numbers if len(numbers) <= 12 else numbers[:: -(-len(numbers) // 12)])
        axes.plot(numbers, values, color=colour, linewidth=2.0, marker="o", markersize=6.0, markeredgewidth=0, clip_on=False)
    upper.tick_params(labelbottom=False)
    sheet.words(LEFT, 12.0, f"clean loudness, now {number(points[-1].clean_lufs)} LUFS", SONG.light)
    sheet.words(LEFT + WIDTH, 12.0, "dashed: target", QUIET.light, SMALL, "right")
    sheet.words(LEFT, 20.0 + UPPER + 26.0, f"past the limits, now {number(points[-1].excess)}", MARK.light)
    sheet.words(LEFT + WIDTH, 20.0 + UPPER + 26.0, "by bounce", QUIET.light, SMALL, "right")
    return sheet


def _caption(points: Sequence[CoursePoint]) -> str:
    last = points[-1].number
    return f"Bounces {points[0].number} to {last}: above, how loud each can go cleanly. Below, how far its findings lie past their limits."


def _alternative(points: Sequence[CoursePoint], target_lufs: float) -> str:
    listed = " ".join(
        f"Bounce {point.number}: clean loudness {number(point.clean_lufs, 1, 'LUFS')}, past the limits {number(point.excess)}."
        for point in points
    )
    return f"Course of the project, target {number(target_lufs)} LUFS. {listed}"


KIND = PictureKind(place=90, section="since", draw=draw)
