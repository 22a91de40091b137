"""The elements: level, usual range, and audibility of each."""

from advisor.app.words import number
from advisor.pictures.colours import AREA, GRID, MARK, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import SMALL, WIDTH, Sheet, dot, shortened
from advisor.report_model.report import Report
from features.records.elements import Element

TOP, ROW = 34.0, 18.0
NAME_END, LEVEL_START, LEVEL_END, SHARE_START, SHARE_END = 96.0, 104.0, 236.0, 254.0, 322.0
MOST_ROWS = 24
MOST_LETTERS = 15
SEVERAL = 2
LOWEST_LU = -30.0
OFF = 1.0  # spreads from what is usual


def draw(report: Report) -> Drawn | None:
    """Draw a row for each element, the loudest first."""
    playing = [stem for stem in report.stems or () if stem.level.while_playing_lu is not None and not stem.silent]
    if len(playing) < SEVERAL:
        return None
    rows = sorted(playing, key=lambda stem: (-_lu(stem), stem.name))
    return Drawn(_sheet(rows[:MOST_ROWS]), _caption(rows), _alternative(rows))


def _lu(stem: Element) -> float:
    return stem.level.while_playing_lu or 0.0


def _is_off(stem: Element) -> bool:
    usual, spread = stem.level_plan.usual_lu, stem.level_plan.usual_spread_lu
    return usual is not None and spread is not None and abs(_lu(stem) - usual) > OFF * spread


def _sheet(rows: list[Element]) -> Sheet:
    sheet = Sheet(TOP + len(rows) * ROW + 24.0)
    height = len(rows) * ROW
    level, share = (
        sheet.axes(LEVEL_START, TOP, LEVEL_END - LEVEL_START, height),
        sheet.axes(SHARE_START, TOP, SHARE_END - SHARE_START, height),
    )
    lowest = max(min(_lu(stem) for stem in rows), LOWEST_LU)
    low = 5.0 * ((min(lowest, -15.0) - 1.0) // 5.0)
    high = max(1.0, *(_lu(stem) + 1.0 for stem in rows))
    for axes, limits in ((level, (low, high)), (share, (0.0, 1.0))):
        axes.set_xlim(*limits)
        axes.set_ylim(len(rows) - 0.5, -0.5)
        axes.set_yticks([])
        axes.grid(axis="x")
    level.set_xticks([lu for lu in range(-30, 1, 10 if low < -20.0 else 5) if low <= lu], minor=False)
    share.set_xticks([0.0, 0.5, 1.0], ["0 %", "50 %", "100 %"])
    for place, stem in enumerate(rows):
        usual, spread, audible = stem.level_plan.usual_lu, stem.level_plan.usual_spread_lu, stem.masking.audible_share
        if usual is not None and spread is not None:
            level.barh(place, 2 * spread, 0.62, left=usual - spread, facecolor=AREA.light, edgecolor=QUIET.light, linewidth=0.5)
        marker, colour = ("D", MARK.light) if _is_off(stem) else ("o", SONG.light)
        dot(level, (max(_lu(stem), low), place), colour, marker)
        share.plot([0.0, 1.0], [place, place], color=GRID.light, linewidth=4.0, solid_capstyle="butt")
        if audible is not None:
            share.plot([0.0, audible], [place, place], color=SONG.light, linewidth=4.0, solid_capstyle="butt")
            sheet.words(WIDTH - 2.0, TOP + (place + 0.5) * ROW + 3.5, f"{audible:.0%}", QUIET.light, SMALL, "right")
        sheet.words(NAME_END, TOP + (place + 0.5) * ROW + 3.5, shortened(stem.name, MOST_LETTERS), align="right")
    sheet.words(LEVEL_START, 12.0, "loudness against the mix")
    sheet.words(LEVEL_START, 26.0, "LU, while it plays", QUIET.light, SMALL)
    sheet.words(SHARE_START, 12.0, "audible")
    return sheet


def _caption(rows: list[Element]) -> str:
    off = sum(_is_off(stem) for stem in rows)
    outside = {0: "none stands outside it", 1: "the diamond stands outside it"}.get(off, f"the {off} diamonds stand outside it")
    shortened_to = f" The loudest {MOST_ROWS} of {len(rows)} are drawn." if len(rows) > MOST_ROWS else ""
    return (
        f"{'Dots and diamonds' if off else 'Dots'}: how loud each element is. Shaded: where such elements usually stand; {outside}. "
        f"Bars: how much of the element is not masked by the others.{shortened_to}"
    )


def _alternative(rows: list[Element]) -> str:
    return f"Elements, loudest first. {' '.join(_words(stem) for stem in rows)}"


def _words(stem: Element) -> str:
    usual, spread, audible = stem.level_plan.usual_lu, stem.level_plan.usual_spread_lu, stem.masking.audible_share
    range_of = "" if usual is None or spread is None else f", usually {number(usual - spread)} to {number(usual + spread)} LU"
    audibility = "" if audible is None else f", {audible:.0%} audible"
    return f"{stem.name}: {number(_lu(stem))} LU{range_of}{audibility}."


KIND = PictureKind(place=50, section="elements", shows=lambda card: card.topic == "balance" and card.stem is not None, draw=draw)
