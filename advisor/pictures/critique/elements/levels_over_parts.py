"""The elements over the parts of the song."""

from advisor.app.words import number
from advisor.pictures.colours import GRID, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import RIGHT, SMALL, Sheet, shortened
from advisor.report_model.report import Report
from features.records.elements import Element
from features.records.sections import Section, Sections
from features.sound.clock import clock

LEFT, TOP, ROW = 104.0, 24.0, 22.0
LOWEST_LU, LEAST_LU = -36.0, -18.0  # where the bars start, by the softest element
LEAST_SHARE = 0.06  # of a bar, so that it is seen that it plays
HIGHEST = 0.84  # of a row
MOST_ROWS = 16
MOST_LETTERS = 15
SEVERAL = 2
GAP = 0.006  # of the song, between two parts
WIDE_ENOUGH = 26.0  # units for the time at which a part starts


def draw(report: Report) -> Drawn | None:
    """Draw a row of bars for each element."""
    sections = report.measurements.get(Sections)
    parts = () if sections is None else sections.sections
    stems = [
        stem for stem in report.stems or () if len(stem.level.parts_lu) == len(parts) and any(lu is not None for lu in stem.level.parts_lu)
    ]
    if len(parts) < SEVERAL or len(stems) < SEVERAL:
        return None
    loudest = sorted(stems, key=lambda stem: (-(stem.level.while_playing_lu or LOWEST_LU), stem.name))
    return Drawn(_sheet(loudest[:MOST_ROWS], parts), _caption(len(stems)), _alternative(loudest, parts))


def _sheet(stems: list[Element], parts: tuple[Section, ...]) -> Sheet:
    sheet = Sheet(TOP + len(stems) * ROW + 8.0)
    axes = sheet.axes(LEFT, TOP, RIGHT - LEFT, len(stems) * ROW)
    end, gap = parts[-1].end_s, GAP * parts[-1].end_s
    axes.set_xlim(0.0, end)
    axes.set_ylim(len(stems), 0.0)
    axes.axis("off")
    played = [lu for stem in stems for lu in stem.level.parts_lu if lu is not None]
    lowest = max(min(*played, LEAST_LU) - 2.0, LOWEST_LU)
    edges = [edge for part in parts for edge in (part.start_s, part.end_s - gap)]
    for row, stem in enumerate(stems):
        base = row + 0.92
        axes.plot([0.0, end], [base, base], color=GRID.light, linewidth=1.2)
        axes.stairs(
            [base - height for height in _heights(stem, lowest)][:-1], edges, baseline=base, fill=True, facecolor=SONG.light, linewidth=0
        )
        sheet.words(LEFT - 8.0, TOP + base * ROW - 4.0, shortened(stem.name, MOST_LETTERS), align="right")
    free = 0.0
    for part in parts:
        place = LEFT + (RIGHT - LEFT) * part.start_s / end
        if place >= free:
            sheet.words(place, 14.0, clock(part.start_s), QUIET.light, SMALL)
            free = place + WIDE_ENOUGH
    return sheet


def _heights(stem: Element, lowest_lu: float) -> list[float]:
    """Return the heights of a row's bars, each followed by a gap."""
    shares = [0.0 if lu is None else min(max(1.0 - lu / lowest_lu, LEAST_SHARE), 1.0) for lu in stem.level.parts_lu]
    return [height for share in shares for height in (HIGHEST * share, 0.0)]


def _caption(count: int) -> str:
    left_out = f" The loudest {MOST_ROWS} of {count} are drawn." if count > MOST_ROWS else ""
    return f"Columns are the parts of the song. The taller the bar, the louder the element against the mix.{left_out}"


def _alternative(stems: list[Element], parts: tuple[Section, ...]) -> str:
    starts = ", ".join(clock(part.start_s) for part in parts)
    rows = " ".join(f"{stem.name}: {', '.join(number(lu) if lu is not None else 'rests' for lu in stem.level.parts_lu)}." for stem in stems)
    return f"Loudness of each element against the mix, in LU, in the parts from {starts}. {rows}"


KIND = PictureKind(place=66, section="elements", draw=draw)
