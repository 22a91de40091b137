"""Reads what was drawn: its words, and how many marks it has of each colour."""

from collections import Counter
from dataclasses import dataclass, replace
from types import ModuleType
from typing import Any
from xml.etree.ElementTree import Element, fromstring

from advisor.pictures.colours import COLOURS, Colour
from advisor.pictures.sheet import one_style
from advisor.report_model.measurements import Measurements
from advisor.report_model.report import Report
from features.records.elements import Element as Stem
from tests import records
from tests.advisor import samples

VARIABLES = {colour.variable: colour for colour in COLOURS}


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture taken apart."""

    root: Element
    words: tuple[str, ...]
    marks: Counter[Colour]
    caption: str
    alternative: str


def drawing(module: ModuleType, document: object) -> Drawing | None:
    """Draw a module's picture of a document, and take it apart."""
    with one_style():
        drawn = module.draw(document)
        svg = None if drawn is None else drawn.sheet.svg("name", drawn.alternative)
    if drawn is None or svg is None:
        return None
    root = fromstring(svg)  # noqa: S314 - our own drawing
    words = tuple(element.text or "" for element in root.iter("text"))
    painted = [element.get(paint) for element in root.iter() if element.tag in {"path", "use"} for paint in ("fill", "stroke")]
    marks = Counter(VARIABLES[value] for value in painted if value in VARIABLES)
    return Drawing(root, words, marks, drawn.caption, drawn.alternative)


def seen(module: ModuleType, document: object) -> Drawing:
    """Return a picture that must be there."""
    there = drawing(module, document)
    assert there is not None
    return there


def with_stems(*stems: Stem, **changes: Any) -> Report:  # noqa: ANN401 - any field of a report
    """Return the ordinary song's report with these elements, or with its own."""
    plain, elements = samples.report(), records.elements()
    measured = Measurements.of_records([*plain.measurements.records.values(), elements])
    return replace(plain, measurements=measured, stems=stems or elements.elements, **changes)
