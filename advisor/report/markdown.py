"""report.md: the critique as a text, its sections found in `sections` and put in the order of their places."""

import importlib
import pkgutil
from collections.abc import Callable, Iterator
from functools import cache

from advisor.report import sections
from advisor.report.filling import joined
from advisor.report_model.report import Report

Section = Callable[[Report], Iterator[str]]


@cache
def report_sections() -> tuple[Section, ...]:
    """Return every section, in the order of their places."""
    modules = [importlib.import_module(f"{sections.__name__}.{info.name}") for info in pkgutil.iter_modules(sections.__path__)]
    return tuple(module.section for module in sorted(modules, key=lambda module: module.PLACE))


def render(report: Report) -> str:
    """Return the whole report as Markdown."""
    return joined(section(report) for section in report_sections())
