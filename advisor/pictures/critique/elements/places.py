"""Where each element sits from left to right."""

from advisor.pictures.colours import GRID, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import RIGHT, SMALL, Sheet, dot, shortened
from advisor.report_model.report import Report

LEFT, TOP, ROW = 108.0, 20.0, 18.0
WIDTH = RIGHT - 6.0 - LEFT
IN_THE_MIDDLE_DB = 1.0
FAR_DB = 12.0
MOST_ROWS = 16
MOST_LETTERS = 15


def draw(report: Report) -> Drawn | None:
    """Draw the elements that sit off the middle.

    Nothing where all sit in it.
    """
    places = {stem.name: stem.level.pan_db for stem in report.stems or () if stem.level.pan_db is not None and not stem.silent}
    aside = [(name, pan) for name, pan in sorted(places.items(), key=lambda place: (place[1], place[0])) if abs(pan) >= IN_THE_MIDDLE_DB]
    if not aside:
        return None
    middle = [name for name in places if name not in dict(aside)]
    furthest = sorted(aside, key=lambda place: -abs(place[1]))[:MOST_ROWS]
    return Drawn(_sheet([place for place in aside if place in furthest]), _caption(middle), _alternative(aside, middle))


Places = list[tuple[str, float]]  # right minus left in dB, from left to right


def _sheet(places: Places) -> Sheet:
    sheet = Sheet(TOP + len(places) * ROW + 22.0)
    axes = sheet.axes(LEFT, TOP, WIDTH, len(places) * ROW)
    axes.set_xlim(-FAR_DB, FAR_DB)
    axes.set_ylim(len(places) - 0.5, -0.5)
    axes.set_yticks([])
    axes.set_xticks([-12, -6, 0, 6, 12], ["12 dB", "6", "0", "6", "12 dB"])
    axes.grid(axis="x", color=GRID.light)
    axes.axvline(0.0, color=QUIET.light, linewidth=0.8)
    for row, (name, pan) in enumerate(places):
        shown = min(max(pan, -FAR_DB), FAR_DB)
        axes.plot([0.0, shown], [row, row], color=SONG.light, linewidth=1.5)
        dot(axes, (shown, row), SONG.light)
        sheet.words(LEFT - 12.0, TOP + (row + 0.5) * ROW + 3.5, shortened(name, MOST_LETTERS), align="right")
    for words, place, align in (("left", LEFT, "left"), ("middle", LEFT + 0.5 * WIDTH, "center"), ("right", LEFT + WIDTH, "right")):
        sheet.words(place, 12.0, words, QUIET.light, SMALL, align)
    return sheet


def _caption(middle: list[str]) -> str:
    return f"How much louder each element is on one side.{_in_the_middle(middle)}"


def _alternative(aside: Places, middle: list[str]) -> str:
    listed = ", ".join(f"{name} {abs(pan):.1f} dB to the {'right' if pan > 0 else 'left'}" for name, pan in aside)
    return f"Elements from left to right: {listed}.{_in_the_middle(middle)}"


def _in_the_middle(names: list[str]) -> str:
    return f" In the middle: {', '.join(names)}." if names else ""


KIND = PictureKind(place=64, section="elements", draw=draw)
