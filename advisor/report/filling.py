"""Fills the templates of a report's sections; whatever is put into one is made safe in this one place."""

from collections.abc import Iterable, Iterator
from functools import cache
from typing import TYPE_CHECKING

from advisor.app.words import lowered, number, plain, sentence
from features.sound.clock import clock

if TYPE_CHECKING:
    from jinja2 import Environment


@cache
def _environment() -> "Environment":
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - wanted only where a report is written
    from markupsafe import Markup  # noqa: PLC0415

    def made_safe(value: object) -> object:
        return plain(value) if isinstance(value, str) and not isinstance(value, Markup) else value

    made = Environment(  # noqa: S701 - Markdown is escaped by made_safe
        loader=PackageLoader("advisor.report", "templates"), undefined=StrictUndefined, keep_trailing_newline=True,
        trim_blocks=True, lstrip_blocks=True, finalize=made_safe,
    )  # fmt: skip
    made.filters.update(sentence=sentence, lowered=lowered, number=number, clock=clock)
    return made


def filled(name: str, **values: object) -> Iterator[str]:
    """Yield the lines of a section's template with these values in it."""
    yield from _environment().get_template(f"{name}.md").render(values).removesuffix("\n").split("\n")


def joined(sections: Iterable[Iterator[str]]) -> str:
    """Return sections as one text."""
    return "\n".join(line for section in sections for line in section) + "\n"
