"""Writes report.html: one file that opens anywhere, offline, without scripts."""

from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING

from advisor.pictures.colours import style
from advisor.pictures.discovery import pictures_of
from advisor.pictures.picture import Picture
from advisor.report import markdown as text
from advisor.report.illustrated import at_sections, illustrated, text_with_places
from advisor.report_model.master_check import MasterReport
from advisor.report_model.report import Report

if TYPE_CHECKING:
    from jinja2 import Template

PLAYERS = {"audio": {"controls", "preload", "src", "aria-label"}, "div": {"class", "tabindex", "role", "aria-label"}}


def render(report: Report) -> str:
    """Return the report as a page."""
    return illustrated_page(report, f"Critique of {report.mix.name}")


def illustrated_page(report: Report | MasterReport, title: str) -> str:
    """Return a report as a page with its pictures."""
    parts = text.parts(report)
    pictures = at_sections(pictures_of(report), parts)
    return page(text_with_places(parts, pictures), title, pictures)


def page(written: str, title: str, pictures: Sequence[Picture] = ()) -> str:
    """Return a text as a page, pictures in their places.

    Everything that came from files is escaped in the text and cleaned once more here.
    """
    import markdown  # noqa: PLC0415 - slow to import, wanted only here
    import nh3  # noqa: PLC0415
    from markupsafe import Markup  # noqa: PLC0415

    from advisor.report.page_parts import PageParts, allowed  # noqa: PLC0415

    body = nh3.clean(
        markdown.markdown(written, extensions=["tables", PageParts()]),
        tags=nh3.ALLOWED_TAGS | {"audio"},
        attributes={**nh3.ALLOWED_ATTRIBUTES, **PLAYERS},
        attribute_filter=allowed,
    )
    return page_template().render(
        title=title,
        body=Markup(illustrated(body, pictures)),  # noqa: S704 - cleaned above, and our own drawings
        picture_style=Markup(style(".picture")) if pictures else "",  # noqa: S704 - our own
    )


@cache
def page_template() -> "Template":
    """Return the page, which escapes all but the cleaned text."""
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - wanted only here

    loader = PackageLoader("advisor.report", "templates")
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True).get_template("page.html")
