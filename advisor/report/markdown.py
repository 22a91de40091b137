"""Writes reports as Markdown, their sections by their places."""

import importlib
import pkgutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from types import ModuleType
from typing import Any

from advisor.report.folds import folded, shown_first
from advisor.report.sections import critique, master
from advisor.report_model.master_check import MasterReport
from advisor.report_model.report import Report


@dataclass(frozen=True, slots=True)
class Section:
    """A section of a document: its name, place and lines."""

    name: str
    place: int
    lines: Callable[[Any], Iterator[str]]  # of the document whose package it lies in


@dataclass(frozen=True, slots=True)
class Part:
    """The text of a section, its folds among its lines."""

    name: str
    text: str


@cache
def sections_in(package: ModuleType) -> tuple[Section, ...]:
    """Return a document's sections in the order of their places."""
    names = [info.name for info in pkgutil.walk_packages(package.__path__, f"{package.__name__}.") if not info.ispkg]
    modules = [importlib.import_module(name) for name in names]
    sections = [Section(module.__name__.rpartition(".")[2], module.PLACE, module.section) for module in modules]
    return tuple(sorted(sections, key=lambda section: section.place))


def parts(report: Report | MasterReport) -> tuple[Part, ...]:
    """Return the texts of all sections but empty ones."""
    package = critique if isinstance(report, Report) else master
    written = [(section.name, "\n".join(section.lines(report))) for section in sections_in(package)]
    return tuple(Part(name, f"{text}\n") for name, text in written if text)


def whole(report: Report | MasterReport) -> str:
    """Return the whole report as Markdown, with its folds."""
    return "".join(part.text for part in parts(report))


def render(report: Report | MasterReport) -> str:
    """Return what is read first as Markdown: report.md."""
    return shown_first(whole(report))


def details(report: Report | MasterReport) -> str:
    """Return tables, trials and methods as Markdown: details.md."""
    (title, _, _) = render(report).partition("\n")
    return f"{title}: the details\n\n{folded(whole(report))}"
