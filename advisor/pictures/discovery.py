"""Finds and draws the pictures of a report.

One for each module below its document's package that has something to show.
"""

import importlib
import pkgutil
from dataclasses import replace
from functools import cache
from types import ModuleType

from advisor.pictures import critique, master
from advisor.pictures.picture import FRONT, Picture, PictureKind
from advisor.pictures.sheet import one_style, printable
from advisor.report_model.master_check import MasterReport
from advisor.report_model.report import Report

FIRST = "outlook"  # how loud it can go is the first question
ELSE = "spectrum"  # and tone the second, where no other picture shows what to do first
MOST_IN_FRONT = 2


@cache
def kinds_in(package: ModuleType) -> dict[str, PictureKind]:
    """Return a document's kinds of pictures by their names.

    In the order of their places; raises `TypeError` for a module without.
    """
    modules = [info.name for info in pkgutil.walk_packages(package.__path__, f"{package.__name__}.") if not info.ispkg]
    kinds = {name.rpartition(".")[2]: _declared(name) for name in modules}
    return dict(sorted(kinds.items(), key=lambda named: named[1].place))


def _declared(module_name: str) -> PictureKind:
    kind = getattr(importlib.import_module(module_name), "KIND", None)
    if not isinstance(kind, PictureKind):
        raise TypeError(f"{module_name} must declare KIND, a PictureKind")
    return kind


def pictures_of(report: Report | MasterReport) -> tuple[Picture, ...]:
    """Return the pictures that say something, the front page's first.

    Those of the front page come first.
    None where the user asked for neither trials nor clips, and so for speed.
    """
    if report.settings.quick and not report.settings.audition:
        return ()
    kinds = kinds_in(critique if isinstance(report, Report) else master)
    pictures = {}
    with one_style():
        for name, kind in kinds.items():
            picture = _drawn(name, kind, report)
            if picture is not None:
                pictures[name] = picture
    front = (
        _in_front(report, {name: kinds[name] for name, picture in pictures.items() if picture.svg}) if isinstance(report, Report) else []
    )
    return (
        *(replace(pictures[name], section=FRONT) for name in front),
        *(picture for name, picture in pictures.items() if name not in front),
    )


def _drawn(name: str, kind: PictureKind, report: Report | MasterReport) -> Picture | None:
    """Draw a picture; a crash costs it, not the report."""
    try:
        drawn = kind.draw(report)
        svg = "" if drawn is None else drawn.sheet.svg(name, drawn.alternative)
    except Exception as error:  # noqa: BLE001 - said in its place
        lost = f"The picture '{name}' could not be drawn ({type(error).__name__}: {error}). The rest stands."
        return Picture(name, kind.section, "", printable(lost), "")
    return None if drawn is None else Picture(name, kind.section, svg, printable(drawn.caption), printable(drawn.alternative))


def _in_front(report: Report, kinds: dict[str, PictureKind]) -> list[str]:
    """Return the names of the pictures that say most.

    How loud it can go, and what the first move or finding is about.
    """
    planned = {(step.rule, step.stem) for step in report.plan}
    cards = [card for card in report.findings if (card.rule, card.stem) in planned] or report.findings
    of_moves = [name for card in cards for name, kind in kinds.items() if kind.shows(card)]
    chosen = [name for name in (FIRST, *of_moves[:1], ELSE) if name in kinds]
    return list(dict.fromkeys(chosen))[:MOST_IN_FRONT]
