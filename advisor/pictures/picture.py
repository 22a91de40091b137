"""A picture, and what its kind declares."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from advisor.pictures.sheet import Sheet
from advisor.report_model.findings import FindingCard

FRONT = "front"


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with its caption and its numbers in words.

    Where it could not be drawn, the caption says so, and the rest is empty.

    ``svg`` is an element for a page; ``section`` names the section it belongs to, or `FRONT`.
    """

    name: str
    section: str
    svg: str
    caption: str
    alternative: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """A sheet with its caption and alternative."""

    sheet: Sheet
    caption: str
    alternative: str


def _nothing(_card: FindingCard) -> bool:
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureKind:
    """A kind of picture: its place and its drawing.

    ``draw`` takes the document whose package the kind lies in, and answers None where there is nothing to see. ``shows`` tells the
    findings that are seen best in it.
    """

    place: int
    section: str
    shows: Callable[[FindingCard], bool] = _nothing
    draw: Callable[[Any], Drawn | None]
