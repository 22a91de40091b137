"""report.html: the same text as report.md in one file that opens anywhere, offline and without scripts."""

import re
from functools import cache
from typing import TYPE_CHECKING

from advisor.report import markdown as text
from advisor.report_model.report import Report

if TYPE_CHECKING:
    from jinja2 import Template

CLIP_LINKS = re.compile(r'(?:<a href="audition/step-\d+-(?:before|after)\.(?:flac|wav)"[^>]*>[a-z ]+</a> ?)+')
CLIP_LINK = re.compile(r'<a href="(audition/step-(\d+)-(?:before|after)\.(?:flac|wav))"[^>]*>([a-z ]+)</a>')


def with_players(body: str) -> str:
    """Return the page with players, side by side, in place of the links to clips; only our own names of clips are played."""

    def player(link: re.Match[str]) -> str:
        whole, source, step, words = link[0], link[1], link[2], link[3]
        return f'<div>{words}<audio controls preload="none" src="{source}" aria-label="Step {step}, {words}">{whole}</audio></div>'

    return CLIP_LINKS.sub(lambda links: f'<div class="clips">{CLIP_LINK.sub(player, links[0]).strip()}</div>', body)


def render(report: Report) -> str:
    """Return the report as a page."""
    return page(text.render(report), f"Critique of {report.mix.name}")


def page(written: str, title: str) -> str:
    """Return a text as a page. Everything that came from files is escaped in the text and cleaned once more here."""
    import markdown  # noqa: PLC0415 - slow to import, wanted only here
    import nh3  # noqa: PLC0415
    from markupsafe import Markup  # noqa: PLC0415

    body = nh3.clean(markdown.markdown(written, extensions=["tables"]))
    body = with_players(body)
    body = body.replace("<table>", '<div class="wide" tabindex="0" role="region" aria-label="Table"><table>').replace(
        "</table>", "</table></div>"
    )
    return page_template().render(title=title, body=Markup(body))  # noqa: S704 - cleaned above


@cache
def page_template() -> "Template":
    """Return the page that a text is put into; all but the cleaned text is escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - wanted only here

    loader = PackageLoader("advisor.report", "templates")
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True).get_template("page.html")
