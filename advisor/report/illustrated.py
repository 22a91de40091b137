"""Puts pictures into a page.

Their places are marked in its text, and filled once that is cleaned.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from advisor.pictures.picture import FRONT, Picture
from advisor.report.folds import OPEN
from advisor.report.markdown import Part

FRONT_END = "ahead"  # the section that closes the front page
ELSEWHERE = "numbers"  # where a picture stands whose section has nothing to say


def at_sections(pictures: Iterable[Picture], parts: Sequence[Part]) -> tuple[Picture, ...]:
    """Return the pictures at sections that there are."""
    written = {FRONT, *(part.name for part in parts)}
    return tuple(picture if picture.section in written else replace(picture, section=ELSEWHERE) for picture in pictures)


def text_with_places(parts: Sequence[Part], pictures: Sequence[Picture]) -> str:
    """Return a document's text with places for its pictures.

    They are at the heads of their sections; those of the front page stand at its end.
    """
    at_head = {picture.section for picture in pictures}
    return "".join(
        _headed(part.text, _place(part.name) if part.name in at_head else "")
        + (_place(FRONT) if part.name == FRONT_END and FRONT in at_head else "")
        for part in parts
    )


def _headed(text: str, place: str) -> str:
    """Return a section with a place under its heading, in its fold, or above all of it."""
    heading_lines = 1 if text.startswith("#") else 2 if text.startswith(OPEN) else 0
    lines = text.split("\n")
    return "\n".join([*lines[:heading_lines], f"\n{place}", *lines[heading_lines:]])


def _place(section: str) -> str:
    return f'<div class="pictures-of-{section}"></div>\n\n'


def illustrated(body: str, pictures: Iterable[Picture]) -> str:
    """Return a cleaned page with the pictures in their places.

    Names from files cannot make a place, since they are escaped.
    """
    by_section: dict[str, list[Picture]] = {}
    for picture in pictures:
        by_section.setdefault(picture.section, []).append(picture)
    for section, of_section in by_section.items():
        body = body.replace(_place(section).strip(), f'<div class="pictures">{"".join(map(_figure, of_section))}</div>', 1)
    return body


def _figure(picture: Picture) -> str:
    from markupsafe import escape  # noqa: PLC0415 - wanted only where a page is made

    return f'<figure class="picture">{picture.svg}<figcaption>{escape(picture.caption)}</figcaption></figure>'
