"""Writes report.html: one file, complete offline and without scripts."""

from base64 import b64encode
from collections.abc import Mapping, Sequence
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.pictures.colours import style
from advisor.pictures.discovery import pictures_of
from advisor.pictures.picture import Picture
from advisor.report import markdown as text
from advisor.report.filling import LINK
from advisor.report.illustrated import at_sections, illustrated, text_with_places
from advisor.report.page.sounds import Sound, sounds_of
from advisor.report_model.master_check import MasterReport
from advisor.report_model.report import Report

if TYPE_CHECKING:
    from jinja2 import Template

PAGE = Path(__file__).parent / "page"
ALLOWED = {
    "a": {"href", "class"},
    "audio": {"controls", "preload", "src", "aria-label"},
    "div": {"class", "tabindex", "role", "aria-label"},
    "pre": {"tabindex"},
    "td": {"class"},
    "th": {"class"},
    "span": {"class", "role", "aria-label", "title", "data-start", "data-length", "data-from", "data-to"},
}
NOTHING_TO_HEAR: Mapping[str, Sound] = {}


def render(report: Report, clips: Path | None = None) -> str:
    """Return the report as a page.

    With ``clips``, the folder they lie in, the page holds them itself; the whole mix is too long for that, and stays outside.
    """
    sounds = sounds_of(report)
    if clips is not None:
        sounds = {path: sound for path, sound in sounds.items() if not sound.whole}
    return illustrated_page(report, f"Critique of {report.mix.name}", sounds, clips)


def illustrated_page(
    report: Report | MasterReport, title: str, sounds: Mapping[str, Sound] = NOTHING_TO_HEAR, clips: Path | None = None
) -> str:
    """Return a report as a page with its pictures."""
    parts = text.parts(report)
    pictures = at_sections(pictures_of(report), parts)
    return page(text_with_places(parts, pictures), title, pictures, sounds, clips)


def page(
    written: str,
    title: str,
    pictures: Sequence[Picture] = (),
    sounds: Mapping[str, Sound] = NOTHING_TO_HEAR,
    clips: Path | None = None,
) -> str:
    """Return a text as a page, with players and pictures.

    Everything that came from files is escaped in the text and cleaned once more here. A page that holds its clips links to none.
    """
    import markdown  # noqa: PLC0415 - slow to import, wanted only here
    import nh3  # noqa: PLC0415
    from markupsafe import Markup  # noqa: PLC0415

    from advisor.report.page.parts import PageParts  # noqa: PLC0415

    played = {path for sound in sounds.values() for path, _ in sound.files}

    def allowed(tag: str, attribute: str, value: str) -> str | None:
        if (tag, attribute) == ("audio", "src"):
            return None if value not in played else value if clips is None else _embedded(clips / value)
        return None if clips is not None and attribute == "href" and LINK.fullmatch(value) else value

    body = nh3.clean(
        markdown.markdown(written, extensions=["tables", "md_in_html", PageParts(sounds)]),
        tags=nh3.ALLOWED_TAGS | {"audio", "details", "summary"},
        attributes={tag: ALLOWED.get(tag, set()) | nh3.ALLOWED_ATTRIBUTES.get(tag, set()) for tag in {*ALLOWED, *nh3.ALLOWED_ATTRIBUTES}},
        attribute_filter=allowed,
    )
    script = (PAGE / "players.js").read_text(encoding="utf-8") if sounds else ""
    return page_template().render(
        title=title,
        body=Markup(illustrated(body, pictures)),  # noqa: S704 - cleaned above, and our own drawings
        style=Markup((PAGE / "style.css").read_text(encoding="utf-8") + (style(".picture") if pictures else "")),  # noqa: S704 - our own
        script=Markup(script),  # noqa: S704 - our own
        script_hash=b64encode(sha256(script.encode()).digest()).decode(),
    )


def _embedded(clip: Path) -> str:
    """Return a sound as an address that holds it."""
    return f"data:audio/{clip.suffix.removeprefix('.')};base64,{b64encode(clip.read_bytes()).decode()}"


@cache
def page_template() -> "Template":
    """Return the page, which escapes all but the cleaned text."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined  # noqa: PLC0415 - wanted only here

    loader = FileSystemLoader(PAGE)
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True).get_template("page.html")
