"""The sheet of a picture: its size, type and scales."""

import io
import logging
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from threading import Lock
from typing import TYPE_CHECKING, Any

from advisor.pictures.colours import GRID, INK, QUIET
from advisor.pictures.inline import inlined
from features.sound.clock import clock

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH = 360.0  # as wide as a phone's page; a screen shows it up to a third larger
RIGHT = 342.0  # where scales end, so that half of their last label has room
TEXT = 11.0
SMALL = 10.0
CORNER = 0.06  # of a scale, in which its label would meet that of the other
LETTER = 6.0  # units of a letter of text, rather too many
OCTAVES_HZ = (31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16000.0)
TIME_STEPS_S = (5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0)
DASHED = (0, (4, 3))
_STYLE_IS_GLOBAL = Lock()


@contextmanager
def one_style() -> Iterator[None]:
    """Put our style in force, whatever the user's matplotlibrc says."""
    from matplotlib import rc_context, rcParamsDefault  # noqa: PLC0415 - slow to import, wanted only where a picture is drawn

    ours = {
        "svg.fonttype": "none", "svg.hashsalt": "picture", "text.parse_math": False, "text.color": INK.light, "font.size": TEXT,
        "axes.edgecolor": QUIET.light, "axes.spines.top": False, "axes.spines.right": False, "axes.spines.left": False,
        "axes.unicode_minus": False, "axes.axisbelow": True, "axes.linewidth": 0.8, "axes.labelsize": SMALL, "axes.labelcolor": QUIET.light,
        "grid.color": GRID.light, "grid.linewidth": 0.8, "xtick.major.size": 0, "ytick.major.size": 0, "xtick.minor.size": 0,
        "ytick.minor.size": 0, "xtick.labelsize": SMALL, "ytick.labelsize": SMALL, "xtick.labelcolor": QUIET.light,
        "ytick.labelcolor": QUIET.light, "xtick.major.pad": 4, "ytick.major.pad": 5,
    }  # fmt: skip
    plain = {name: value for name, value in rcParamsDefault.items() if not name.startswith(("backend", "interactive", "toolbar"))}
    settings: Any = {**plain, **ours}  # the library types each name by itself
    logging.getLogger("matplotlib").setLevel(logging.ERROR)  # its notes on fonts and caches are of no use to who reads a report
    with _STYLE_IS_GLOBAL, warnings.catch_warnings(), rc_context(settings):
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)  # the reader's own fonts show names
        yield


class Sheet:
    """A sheet of one width.

    Places on it count from its top left corner.
    """

    def __init__(self, height: float) -> None:
        from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: PLC0415
        from matplotlib.figure import Figure  # noqa: PLC0415

        self.height = height
        self.figure = Figure(figsize=(WIDTH / 72.0, height / 72.0), dpi=72)
        FigureCanvasSVG(self.figure)

    def axes(self, left: float, top: float, width: float, height: float) -> "Axes":
        """Return axes at a place, with a bottom line only."""
        bottom = self.height - top - height
        return self.figure.add_axes((left / WIDTH, bottom / self.height, width / WIDTH, height / self.height))

    def words(self, left: float, top: float, text: str, colour: str = INK.light, size: float = TEXT, align: str = "left") -> None:
        """Write a line whose base lies at a place."""
        self.figure.text(left / WIDTH, 1.0 - top / self.height, text, color=colour, fontsize=size, ha=align, va="baseline")

    def svg(self, name: str, alternative: str) -> str:
        """Return the picture as an element for a page."""
        drawing = io.StringIO()
        no_date = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        self.figure.savefig(drawing, format="svg", transparent=True, metadata=no_date)
        return inlined(drawing.getvalue(), name, printable(alternative))


def printable(text: str) -> str:
    """Return a text on one line, without unprintable characters.

    >>> printable(chr(7) + "two" + chr(10) + "lines")
    'two lines'
    """
    return "".join(char if char.isprintable() else " " for char in text).strip()


def shortened(name: str, most: int) -> str:
    """Return a name that fits into so many letters.

    Its end stays, since it tells takes apart.

    >>> shortened("Lead vocal double 2", 12), shortened("kick", 12)
    ('Lead v…ble 2', 'kick')
    """
    shown, end = printable(name), (most - 1) // 2
    return shown if len(shown) <= most else f"{shown[: most - 1 - end]}…{shown[-end:]}"


def dot(axes: "Axes", place: tuple[float, float], colour: str, marker: str = "o", size: float = 7.0) -> None:
    """Draw a dot, or a mark of another shape."""
    axes.plot(
        *([value] for value in place), linestyle="none", marker=marker, markersize=size, color=colour, markeredgewidth=0, clip_on=False
    )


def frequency_scale(axes: "Axes", low_hz: float, high_hz: float) -> None:
    """Make a horizontal scale of frequency, every other octave named."""
    axes.set_xscale("log", base=2)
    axes.set_xlim(low_hz, high_hz)
    shown = [octave for octave in OCTAVES_HZ[1::2] if low_hz <= octave <= high_hz]
    labels = [f"{octave / 1000.0:g} kHz" if octave >= 1000.0 else f"{octave:g} Hz" for octave in shown]
    axes.set_xticks(shown, labels)
    axes.set_xticks([], minor=True)
    axes.grid(axis="x")


def time_scale(axes: "Axes", end_s: float) -> None:
    """Make a horizontal scale of time, at most seven named."""
    axes.set_xlim(0.0, end_s)
    step = next((step for step in TIME_STEPS_S if end_s / step <= 6.0), TIME_STEPS_S[-1])
    times = [step * place for place in range(int(end_s / step) + 1)]
    axes.set_xticks(times, [clock(time) for time in times])
    axes.grid(axis="x")


def level_scale(axes: "Axes", low: float, high: float, steps: Sequence[float], unit: str) -> None:
    """Make a vertical scale, its highest number with the unit."""
    axes.set_ylim(low, high)
    inside = [step for step in steps if low + CORNER * (high - low) <= step <= high]
    axes.set_yticks(inside, [f"{step:g} {unit if step == max(inside) else ''}".strip() for step in inside])
    axes.grid(axis="y")


def spread_apart(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return places at least a gap apart, in their order.

    They stay inside the limits as far as they fit.

    >>> spread_apart([5.0, 5.0, 90.0], 10.0, 0.0, 100.0), spread_apart([99.0, 100.0], 10.0, 0.0, 100.0)
    ([5.0, 15.0, 90.0], [90.0, 100.0])
    """
    order = sorted(range(len(places)), key=lambda index: places[index])
    apart = list(places)
    for before, index in zip([None, *order], order, strict=False):
        least = low if before is None else apart[before] + gap
        apart[index] = max(apart[index], least)
    for after, index in zip([None, *order[::-1]], order[::-1], strict=False):
        most = high if after is None else apart[after] - gap
        apart[index] = min(apart[index], most)
    return apart
