"""How loud the mix can go, and what stops it."""

from itertools import pairwise
from typing import TYPE_CHECKING

from advisor.app.words import STOPPED_BY, number
from advisor.pictures.colours import AREA, INK, MARK, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import DASHED, LETTER, SMALL, Sheet, spread_apart
from advisor.report_model.report import Report
from features.limiting.damage import LEAST_DENSITY, damage_shares
from features.records.outlook import DAMAGE, DrivePoint, Outlook

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT, TOP, WIDTH, HEIGHT = 8.0, 36.0, 276.0, 134.0
MOST_SHARE = 1.5  # of a limit
LEAST_RANGE_LU = 6.0  # so that the words of both marks have room
UPPER, LOWER = 14.0, 28.0  # lines of words above the axes
LIMIT_WORDS = 0.38  # of the scale
NEAR_DB = 0.1
NAMES = {"distortion": "distortion", "pumping": "pumping", "hits": "punch lost", "density": "no louder"}

Course = list[tuple[float, float]]  # loudness in LUFS and share of its limit


def draw(report: Report) -> Drawn | None:
    """Draw what the limiter adds as the mix gets louder."""
    outlook = report.outlook
    if outlook is None or outlook.clean_lufs is None or len(outlook.curve) < 3:
        return None
    courses = _courses(outlook, outlook.clean_lufs)
    return Drawn(_sheet(outlook, outlook.clean_lufs, courses), _caption(outlook), _alternative(outlook, outlook.clean_lufs))


def _courses(outlook: Outlook, clean_lufs: float) -> dict[str, Course]:
    """Return the readings of damage as shares of their limits; the loudness that drive still brings only where it decides."""
    courses: dict[str, Course] = {name: [] for name in DAMAGE if name != "density" or name == outlook.stopped_by}
    for point in outlook.curve:
        density = _density(point, clean_lufs, outlook.drive_db or 0.0)
        shares = damage_shares(point.distortion_nmr_db, point.pumping_db, point.hit_loss_db, density)
        for name, course in courses.items():
            course.append((point.lufs, shares[name]))
    return courses


def _density(point: DrivePoint, clean_lufs: float, clean_db: float) -> float:
    """Return the loudness for each dB of drive between a point and the clean drive, beyond which it is too little by definition."""
    apart_db = point.drive_db - clean_db
    return LEAST_DENSITY if abs(apart_db) < NEAR_DB else (point.lufs - clean_lufs) / apart_db


def _sheet(outlook: Outlook, clean_lufs: float, courses: dict[str, Course]) -> Sheet:
    sheet = Sheet(TOP + HEIGHT + 34.0)
    axes = sheet.axes(LEFT, TOP, WIDTH, HEIGHT)
    end = max(clean_lufs, outlook.target_lufs) + 1.0
    start = min(outlook.curve[0].lufs, clean_lufs, outlook.target_lufs, end - LEAST_RANGE_LU) - 0.3
    axes.set_xlim(start, end)
    axes.set_ylim(0.0, MOST_SHARE)
    axes.set_yticks([])
    axes.set_xticks([lufs for lufs in range(-60, 1, 1 if end - start < 8.0 else 2) if start <= lufs <= end])
    axes.set_xlabel("loudness after the limiter, LUFS")
    axes.axvspan(start, clean_lufs, facecolor=AREA.light, linewidth=0)
    axes.axhline(1.0, color=QUIET.light, linewidth=0.8, linestyle=DASHED)
    _name_limit(axes, min(clean_lufs, outlook.target_lufs))
    for name, course in courses.items():
        stops = name == outlook.stopped_by
        axes.plot(*zip(*course, strict=True), color=MARK.light if stops else QUIET.light, linewidth=2.4 if stops else 1.2)
    _name_courses(sheet, outlook.stopped_by, {name: _share_at(course, end) for name, course in courses.items()})
    marks = [(clean_lufs, "clean up to", SONG.light), (outlook.target_lufs, "target", INK.light)]
    for (lufs, words, colour), line in zip(sorted(marks), (LOWER, UPPER), strict=True):
        _mark(sheet, axes, f"{words} {number(lufs)} LUFS", lufs, colour, line)
    return sheet


def _name_limit(axes: "Axes", first_mark: float) -> None:
    """Write what the dashed line means, on the side where no mark crosses it."""
    low, high = axes.get_xlim()
    place, align = (0.01, "left") if first_mark - low > LIMIT_WORDS * (high - low) else (0.99, "right")
    axes.text(place, 1.03 / MOST_SHARE, "heard from here up", color=QUIET.light, fontsize=SMALL, ha=align, transform=axes.transAxes)


def _share_at(course: Course, lufs: float) -> float:
    """Return a share at a loudness, or the nearest known."""
    for (before, low), (after, high) in pairwise(course):
        if before <= lufs <= after and after > before:
            return low + (high - low) * (lufs - before) / (after - before)
    return course[-1][1]


def _name_courses(sheet: Sheet, stopped_by: str, ends: dict[str, float]) -> None:
    places = [TOP + HEIGHT * (1.0 - min(share, MOST_SHARE) / MOST_SHARE) + 3.0 for share in ends.values()]
    for name, place in zip(ends, spread_apart(places, 13.0, TOP + 8.0, TOP + HEIGHT), strict=True):
        sheet.words(LEFT + WIDTH + 6.0, place, NAMES[name], MARK.light if name == stopped_by else QUIET.light)


def _mark(sheet: Sheet, axes: "Axes", words: str, lufs: float, colour: str, line: float) -> None:
    """Mark a loudness; its words stand to the left where there is room, so that they cross no higher mark."""
    low, high = axes.get_xlim()
    axes.plot([lufs, lufs], [0.0, MOST_SHARE * (1.0 + (TOP - line + 9.0) / HEIGHT)], color=colour, linewidth=1.2, clip_on=False)
    place = LEFT + WIDTH * (lufs - low) / (high - low)
    left = place > LETTER * len(words)
    sheet.words(place + (-4.0 if left else 4.0), line, words, colour, align="right" if left else "left")


def _caption(outlook: Outlook) -> str:
    if outlook.stopped_by == "none":
        return "The mix can be driven as far as was tried before the limiter is heard."
    clean = f"The shaded range is clean; it ends where {STOPPED_BY[outlook.stopped_by]}."
    target = f"Your target of {number(outlook.target_lufs)} LUFS lies {'inside' if outlook.reaches_target else 'past'} it."
    return f"From left to right a limiter makes the mix louder. {clean} {target}"


def _alternative(outlook: Outlook, clean_lufs: float) -> str:
    points = "; ".join(
        f"{number(point.lufs)} LUFS: distortion {_noise(point.distortion_nmr_db)}, pumping {number(point.pumping_db, 2)} dB, "
        f"punch lost {number(point.hit_loss_db)} dB"
        for point in outlook.curve
    )
    return (
        f"What a limiter adds as the mix gets louder. Clean up to {number(clean_lufs)} LUFS, where {STOPPED_BY[outlook.stopped_by]}; "
        f"target {number(outlook.target_lufs)} LUFS. {points}."
    )


def _noise(ratio_db: float) -> str:
    return "none" if ratio_db <= -60.0 else f"{number(ratio_db)} dB"


KIND = PictureKind(place=10, section="outlook", shows=lambda card: card.topic in {"loudness", "distortion"}, draw=draw)
