"""The song over time."""

from collections.abc import Iterator

from advisor.app.words import bars, course_points, number, scale_bottom, spans
from advisor.report.filling import filled
from advisor.report_model.report import Report
from features.records.level import Level
from features.records.sections import Sections
from features.sound.clock import clock

PLACE = 90
SEVERAL = 2


def section(report: Report) -> Iterator[str]:
    """Yield the song's loudness over time.

    Nothing where none of it was measured.
    """
    level, sections = report.measurements.get(Level), report.measurements.get(Sections)
    if level is None or not any(value is not None for value in level.short_term.values):
        return
    points, step_s = course_points(level.short_term)
    top, bottom = max(value for value in points if value is not None), scale_bottom(points)
    parts = () if sections is None or len(sections.sections) < SEVERAL else sections.sections
    yield from filled(
        __name__,
        step=f"{step_s:g}",
        top=top,
        bottom=bottom,
        marks=bars(points, bottom, top),
        end=clock(report.mix.duration_s).rjust(max(len(points) - 4, 5)),
        parts="; ".join(f"{clock(part.start_s)}-{clock(part.end_s)} at {number(part.loudness_lufs)} LUFS" for part in parts),
        densest=None if sections is None else sections.densest,
        loudest="" if sections is None else spans([sections.densest]),
    )
