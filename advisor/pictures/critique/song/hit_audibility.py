"""The hits over time, audible and covered."""

from advisor.app.words import number
from advisor.pictures.colours import MARK, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import RIGHT, SMALL, TIME_STEPS_S, Sheet, time_scale
from advisor.report_model.report import Report
from features.records.hits import Hits
from features.sound.clock import clock

LEFT, TOP, HEIGHT = 16.0, 20.0, 90.0
WIDTH = RIGHT - LEFT
LEAST_HITS = 8
LEAST_COVERED = 0.05  # of the hits: fewer say nothing
COVERED = 0.5  # of a hit: below, it counts as covered
MOST_BINS = 60


def draw(report: Report) -> Drawn | None:
    """Draw the audible hits upwards and the covered ones downwards."""
    hits = report.measurements.get(Hits)
    if hits is None or len(hits.audible_share) < LEAST_HITS or len(hits.times_s) != len(hits.audible_share):
        return None
    covered = sum(share < COVERED for share in hits.audible_share)
    if covered < LEAST_COVERED * len(hits.audible_share):
        return None
    step_s = next((step for step in (1.0, 2.0, *TIME_STEPS_S) if report.mix.duration_s / step <= MOST_BINS), TIME_STEPS_S[-1])
    bins = _bins(hits, report.mix.duration_s, step_s)
    return Drawn(_sheet(bins, step_s, report.mix.duration_s), _caption(covered), _alternative(hits, covered, bins, step_s))


Bins = list[tuple[int, int]]  # audible and covered hits


def _bins(hits: Hits, end_s: float, step_s: float) -> Bins:
    bins = [(0, 0)] * (int(end_s / step_s) + 1)
    for time, share in zip(hits.times_s, hits.audible_share, strict=True):
        place = min(int(time / step_s), len(bins) - 1)
        audible, covered = bins[place]
        bins[place] = (audible + (share >= COVERED), covered + (share < COVERED))
    return bins


def _sheet(bins: Bins, step_s: float, end_s: float) -> Sheet:
    sheet = Sheet(TOP + HEIGHT + 22.0)
    axes = sheet.axes(LEFT, TOP, WIDTH, HEIGHT)
    time_scale(axes, end_s)
    axes.set_yticks([])
    axes.set_ylim(-max(1, *(covered for _, covered in bins)) - 0.5, max(1, *(audible for audible, _ in bins)) + 0.5)
    edges = [step_s * place for place in range(len(bins) + 1)]
    axes.stairs([audible for audible, _ in bins], edges, fill=True, facecolor=SONG.light, linewidth=0)
    axes.stairs([-covered for _, covered in bins], edges, fill=True, facecolor=MARK.light, linewidth=0)
    axes.axhline(0.0, color=QUIET.light, linewidth=0.8)
    sheet.words(LEFT, 12.0, "audible, up", SONG.light)
    sheet.words(LEFT + 84.0, 12.0, "covered, down", MARK.light)
    sheet.words(LEFT + WIDTH, 12.0, f"hits in {step_s:g} s", QUIET.light, SMALL, "right")
    return sheet


def _caption(covered: int) -> str:
    return f"Upwards the clear hits, downwards the {covered} of which less than half is audible. Listen where the lower side is tall."


def _alternative(hits: Hits, covered: int, bins: Bins, step_s: float) -> str:
    worst = sorted(range(len(bins)), key=lambda place: (-bins[place][1], place))[:3]
    listed = ", ".join(f"{clock(place * step_s)} ({bins[place][1]} of {sum(bins[place])})" for place in worst if bins[place][1])
    median = "" if hits.audible_share_median is None else f" Of a typical hit {number(100.0 * hits.audible_share_median, 0)} % is audible."
    return f"Hits over time: {len(hits.times_s)} hits, {covered} of them covered.{median} Most are covered at {listed}."


KIND = PictureKind(place=70, section="numbers", shows=lambda card: card.topic == "masking" and card.stem is None, draw=draw)
