"""The song over time."""

from collections.abc import Iterator

from advisor.app.words import bars, clock, course_points, number, scale_bottom, spans
from advisor.report_model.report import Report
from features.records.level import Level
from features.records.sections import Sections

PLACE = 90


def section(report: Report) -> Iterator[str]:
    """Yield the song's loudness over time."""
    level, sections = report.measurements.get(Level), report.measurements.get(Sections)
    if not level or not any(value is not None for value in level.short_term.values):
        return
    points, step_s = course_points(level.short_term)
    top = max(value for value in points if value is not None)
    yield "## The song over time"
    yield ""
    bottom = scale_bottom(points)
    yield f"Loudness of 3 s, one mark for {step_s:g} s; top of the scale {number(top)} LUFS, bottom {number(bottom)} LUFS."
    yield ""
    yield f"    {bars(points, bottom, top)}"
    yield f"    0:00{clock(report.mix.duration_s).rjust(max(len(points) - 4, 5))}"
    yield ""
    if sections and len(sections.sections) > 1:
        parts = [f"{clock(one.start_s)}-{clock(one.end_s)} at {number(one.loudness_lufs)} LUFS" for one in sections.sections]
        densest = sections.densest
        length_s = densest.end_s - densest.start_s
        yield f"Parts found: {'; '.join(parts)}. The loudest {length_s:.0f} s in a row: {spans([densest])}."
        yield ""
