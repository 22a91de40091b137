"""Fills the sections' templates and makes their values safe."""

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.app.words import first_sentence, lowered, number, plain, sentence
from advisor.report.folds import fold
from features.sound.clock import clock

if TYPE_CHECKING:
    from jinja2 import Environment

SECTIONS = f"{__package__}.sections."
TEMPLATES = [Path(__file__).parent / "templates"]
LINK = re.compile(r"audition/[A-Za-z0-9][A-Za-z0-9._-]*")  # nothing else is linked to, whatever a document says


@cache
def environment() -> "Environment":
    """Return the templates with their filters.

    Text is escaped for Markdown.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined  # noqa: PLC0415 - wanted only where a report is written
    from markupsafe import Markup  # noqa: PLC0415

    def made_safe(value: object) -> object:
        return plain(value) if isinstance(value, str) and not isinstance(value, Markup) else value

    def linked(words: str, target: str) -> str:
        return Markup(f"[{plain(words)}]({target})") if LINK.fullmatch(target) else words  # noqa: S704 - escaped, and one of our own names

    made = Environment(  # noqa: S701 - Markdown is escaped by made_safe
        loader=FileSystemLoader(TEMPLATES), undefined=StrictUndefined, keep_trailing_newline=True,
        trim_blocks=True, lstrip_blocks=True, finalize=made_safe,
    )  # fmt: skip
    made.filters.update(sentence=sentence, first=first_sentence, lowered=lowered, number=number, clock=clock, linked=linked)
    made.filters["made_safe"] = lambda words: Markup(plain(words))  # noqa: S704 - just made safe
    made.globals["fold"] = fold
    return made


def filled(module: str, **values: object) -> Iterator[str]:
    """Yield the lines of a section's template with these values.

    The template lies where the section's module does: ``templates/a/b.md`` for ``sections/a/b.py``.
    """
    name = module.removeprefix(SECTIONS).replace(".", "/")
    yield from environment().get_template(f"{name}.md").render(values).removesuffix("\n").split("\n")
