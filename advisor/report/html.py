"""Writes report.html: one file that opens anywhere, offline, without scripts."""

from functools import cache
from typing import TYPE_CHECKING

from advisor.report import markdown as text
from advisor.report_model.report import Report

if TYPE_CHECKING:
    from jinja2 import Template

PLAYERS = {"audio": {"controls", "preload", "src", "aria-label"}, "div": {"class", "tabindex", "role", "aria-label"}}


def render(report: Report) -> str:
    """Return the report as a page."""
    return page(text.whole(report), f"Critique of {report.mix.name}")


def page(written: str, title: str) -> str:
    """Return a text as a page.

    Everything that came from files is escaped in the text and cleaned once more here.
    """
    import markdown  # noqa: PLC0415 - slow to import, wanted only here
    import nh3  # noqa: PLC0415
    from markupsafe import Markup  # noqa: PLC0415

    from advisor.report.page_parts import PageParts, allowed  # noqa: PLC0415

    body = nh3.clean(
        markdown.markdown(written, extensions=["tables", "md_in_html", PageParts()]),
        tags=nh3.ALLOWED_TAGS | {"audio", "details", "summary"},
        attributes={**nh3.ALLOWED_ATTRIBUTES, **PLAYERS},
        attribute_filter=allowed,
    )
    return page_template().render(title=title, body=Markup(body))  # noqa: S704 - cleaned above


@cache
def page_template() -> "Template":
    """Return the page, which escapes all but the cleaned text."""
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - wanted only here

    loader = PackageLoader("advisor.report", "templates")
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True).get_template("page.html")
