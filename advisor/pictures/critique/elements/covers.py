"""Who covers whom."""

from advisor.pictures.colours import GRID, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import LETTER, SMALL, WIDTH, Sheet, dot, shortened
from advisor.report_model.report import Report

LEAST_SHARE = 0.03
MOST_NAMES = 18
MOST_LETTERS = 15
NAMES, CELL = 98.0, 18.0
SIZES = (4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0)  # a few, so that a page stays small


def draw(report: Report) -> Drawn | None:
    """Draw a square for each pair that masks."""
    covers = {
        (stem.name, cover.by): cover.share for stem in report.stems or () for cover in stem.masking.covered_by if cover.share >= LEAST_SHARE
    }
    if not covers:
        return None
    strongest = sorted(covers, key=lambda pair: (-covers[pair], pair))
    covered = list(dict.fromkeys(pair[0] for pair in strongest))[:MOST_NAMES]
    covering = list(dict.fromkeys(pair[1] for pair in strongest))[:MOST_NAMES]
    shown = {pair: covers[pair] for pair in strongest if pair[0] in covered and pair[1] in covering}
    return Drawn(_sheet(shown, covered, covering), _caption(shown), _alternative(shown))


Covers = dict[tuple[str, str], float]  # share of the first that the second masks, strongest first


def _sheet(covers: Covers, covered: list[str], covering: list[str]) -> Sheet:
    heads = 14.0 + LETTER * max(min(len(name), MOST_LETTERS) for name in covering)
    cell = min(CELL * 1.4, (WIDTH - 6.0 - NAMES) / len(covering))
    sheet = Sheet(heads + len(covered) * CELL + 10.0)
    axes = sheet.axes(NAMES, heads, cell * len(covering), len(covered) * CELL)
    axes.set_xlim(-0.5, len(covering) - 0.5)
    axes.set_ylim(len(covered) - 0.5, -0.5)
    axes.set_xticks(range(len(covering)), [""] * len(covering))
    axes.set_yticks(range(len(covered)), [""] * len(covered))
    axes.grid(color=GRID.light)
    axes.spines["bottom"].set_visible(False)
    largest = max(covers.values())
    for (name, by), share in covers.items():
        size = _side(share / largest)
        dot(axes, (covering.index(by), covered.index(name)), SONG.light, "s", size)
    for place, name in enumerate(covered):
        sheet.words(NAMES - 8.0, heads + (place + 0.5) * CELL + 3.5, shortened(name, MOST_LETTERS), align="right")
    for place, name in enumerate(covering):
        axes.text(place, -0.7, shortened(name, MOST_LETTERS), rotation=90, ha="center", va="bottom")
    sheet.words(NAMES - 8.0, heads - 8.0, "is masked by", QUIET.light, SMALL, "right")
    return sheet


def _side(of_largest: float) -> float:
    """Return the side of a square whose area tells the share."""
    return min(SIZES, key=lambda side: abs(side - SIZES[-1] * of_largest**0.5))


def _caption(covers: Covers) -> str:
    (name, by), share = next(iter(covers.items()))
    return f"Rows are elements, columns what masks them; the larger the square, the more. Most: '{by}' masks {share:.0%} of '{name}'."


def _alternative(covers: Covers) -> str:
    masked = " ".join(f"{by} masks {share:.0%} of {name}." for (name, by), share in covers.items())
    return f"Which element masks which. {masked}"


KIND = PictureKind(place=60, section="elements", shows=lambda card: card.topic == "masking" and card.stem is not None, draw=draw)
