"""The song over time: loudness, parts, findings, and stretches tried."""

from advisor.app.words import course_points, number, scale_bottom, spans
from advisor.pictures.colours import AREA, MARK, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.rows import ROW, Row, draw_rows
from advisor.pictures.sheet import RIGHT, SMALL, Sheet, level_scale, time_scale
from advisor.report_model.report import Report
from features.records.base import Span
from features.records.level import Level
from features.records.sections import Section, Sections
from features.sound.clock import clock

LEFT, TOP, HEIGHT = 30.0, 18.0, 100.0
WIDTH = RIGHT - LEFT
MOST_ROWS = 6
MOST_POINTS = 200
EVERYWHERE = 0.8  # of the song: a finding that is everywhere needs no place
SEVERAL = 2
FEW = 5  # points make no course
WIDE_LU = 22.0  # a scale that names every 10 LU
FADE_PART = 20  # a twentieth of the points may lie under the scale
WIDE_ENOUGH = 34.0  # units for a part's loudness


def draw(report: Report) -> Drawn | None:
    """Draw the loudness, the parts, and rows of findings."""
    level, sections = report.measurements.get(Level), report.measurements.get(Sections)
    if level is None or sum(value is not None for value in level.short_term.values) < FEW:
        return None
    parts = () if sections is None or len(sections.sections) < SEVERAL else sections.sections
    rows = _rows(report)
    return Drawn(_sheet(report, level, parts, rows), _caption(parts, rows), _alternative(report, level, parts, rows))


def _rows(report: Report) -> list[Row]:
    """Return the findings that are somewhere, first ranked first, and what was tried."""
    somewhere = [card for card in report.findings if card.where and _covered(card.where) <= EVERYWHERE * report.mix.duration_s]
    findings = [Row(card.title, _pairs(card.where)) for card in somewhere[:MOST_ROWS]]
    tried = [Row("Stretches on which the moves were tried", _pairs(report.tried_on), QUIET.light)] if report.tried_on else []
    return [*findings, *tried]


def _pairs(where: tuple[Span, ...]) -> tuple[tuple[float, float], ...]:
    return tuple((stretch.start_s, stretch.end_s) for stretch in where)


def _covered(where: tuple[Span, ...]) -> float:
    return sum(stretch.end_s - stretch.start_s for stretch in where)


def _sheet(report: Report, level: Level, parts: tuple[Section, ...], rows: list[Row]) -> Sheet:
    sheet = Sheet(TOP + HEIGHT + 26.0 + len(rows) * ROW)
    axes = sheet.axes(LEFT, TOP, WIDTH, HEIGHT)
    end = report.mix.duration_s
    points, step_s = course_points(level.short_term, MOST_POINTS)
    bottom, top = _scale(points)
    time_scale(axes, end)
    level_scale(axes, bottom, top, range(-90, 1, 10 if top - bottom > WIDE_LU else 5), "")
    for place, part in enumerate(parts):
        if place % 2:
            axes.axvspan(part.start_s, part.end_s, facecolor=AREA.light, linewidth=0)
        if WIDTH * (part.end_s - part.start_s) / end >= WIDE_ENOUGH:
            middle = LEFT + WIDTH * 0.5 * (part.start_s + part.end_s) / end
            sheet.words(middle, 12.0, number(part.loudness_lufs), QUIET.light, SMALL, "center")
    times = [level.short_term.start_s + step_s * place for place in range(len(points))]
    axes.plot(times, [float("nan") if point is None else point for point in points], color=SONG.light, linewidth=2.0)
    sheet.words(2.0, 12.0, "LUFS", QUIET.light, SMALL)
    if rows:
        under = sheet.axes(LEFT, TOP + HEIGHT + 24.0, WIDTH, len(rows) * ROW)
        under.set_xlim(0.0, end)
        draw_rows(under, rows)
    return sheet


def _scale(points: list[float | None]) -> tuple[float, float]:
    """Return the ends of the scale; a fade runs out of it."""
    known = sorted(point for point in points if point is not None)
    return scale_bottom(known[len(known) // FADE_PART :]), known[-1] + 1.0


def _caption(parts: tuple[Section, ...], rows: list[Row]) -> str:
    line = "The line is the loudness of 3 s"
    shaded = ", the shading the parts with their loudness above them" if parts else ""
    marked = [row for row in rows if row.colour == MARK.light]
    below = " Under it: where each finding shows." if marked else ""
    return f"{line}{shaded}.{below}"


def _alternative(report: Report, level: Level, parts: tuple[Section, ...], rows: list[Row]) -> str:
    loudest = f"Loudest 3 s {number(level.short_term_max_lufs)} LUFS in {clock(report.mix.duration_s)}."
    listed = "; ".join(f"{clock(part.start_s)}-{clock(part.end_s)} {number(part.loudness_lufs)} LUFS" for part in parts)
    under = " ".join(f"{row.title}: {spans([Span(*pair) for pair in row.stretches], len(row.stretches))}." for row in rows)
    return " ".join(text for text in (f"Loudness over time. {loudest}", f"Parts: {listed}." if listed else "", under) if text)


KIND = PictureKind(place=30, section="findings", draw=draw)
