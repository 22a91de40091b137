"""Writes reports as Markdown, their sections by their places."""

import importlib
import pkgutil
from collections.abc import Callable, Iterator
from functools import cache
from types import ModuleType
from typing import Any

from advisor.report.filling import joined
from advisor.report.sections import critique, master
from advisor.report_model.master_check import MasterReport
from advisor.report_model.report import Report

Section = Callable[[Any], Iterator[str]]  # of the document whose package it lies in


@cache
def sections_in(package: ModuleType) -> tuple[Section, ...]:
    """Return a document's sections in the order of their places."""
    names = [info.name for info in pkgutil.walk_packages(package.__path__, f"{package.__name__}.") if not info.ispkg]
    modules = [importlib.import_module(name) for name in names]
    return tuple(module.section for module in sorted(modules, key=lambda module: module.PLACE))


def render(report: Report | MasterReport) -> str:
    """Return the whole report as Markdown."""
    package = critique if isinstance(report, Report) else master
    return joined(section(report) for section in sections_in(package))
