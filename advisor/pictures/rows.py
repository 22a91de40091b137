"""Rows of findings under a picture, along its scale."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from advisor.pictures.colours import GRID, INK, MARK
from advisor.pictures.sheet import SMALL, shortened

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW = 22.0
MOST_LETTERS = 56
LEAST_SHARE = 0.008  # of the scale: a moment is a dot that can be seen


@dataclass(frozen=True, slots=True)
class Row:
    """A title with its stretches of the scale."""

    title: str
    stretches: tuple[tuple[float, float], ...]
    colour: str = MARK.light


def draw_rows(axes: "Axes", rows: Sequence[Row]) -> None:
    """Draw each title with its stretches under it.

    The horizontal scale is set already.
    """
    low, high = axes.get_xlim()
    slightest = LEAST_SHARE * (high - low)
    axes.set_ylim(len(rows), 0)
    axes.axis("off")
    for place, row in enumerate(rows):
        inside = [(max(start, low), min(end, high)) for start, end in row.stretches if end >= low and start <= high]
        axes.text(
            0.0, place + 0.55, shortened(row.title, MOST_LETTERS), color=INK.light, fontsize=SMALL, transform=axes.get_yaxis_transform()
        )
        axes.plot([low, high], [place + 0.82] * 2, color=GRID.light, linewidth=1.0, clip_on=False)
        for start, end in inside:
            axes.plot(
                [start, max(end, start + slightest)],
                [place + 0.82] * 2,
                color=row.colour,
                linewidth=4.0,
                solid_capstyle="butt",
                clip_on=False,
            )
