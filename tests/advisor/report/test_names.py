"""Names and tags are shown as text everywhere, whatever they hold: in report.md, in report.html and on a terminal."""

import io
from html.parser import HTMLParser

import markdown as library
import pytest
from rich.console import Console

from advisor.app.history_words import shown
from advisor.app.words import plain
from advisor.cli.common import show
from advisor.cli.display import print_table
from advisor.report import html, markdown
from tests.advisor.report.page.pages import with_clips

NAMES = {
    "script": "<script>alert(1)</script>.wav",
    "picture": '<img src=x onerror="alert(1)">',
    "closing tag": "</main></h1><h2>mine",
    "entity": "&lt;b&gt; R&B &amp; more",
    "emphasis": "**loud** *soft* __both__ _one_",
    "underscores": "01_lead_vox_final_v2_.wav",
    "link": "[mine](javascript:alert(1)) ![x](http://example.org/x.png)",
    "code": "`rm -rf` ``two``",
    "table": "kick | snare || hat",
    "heading": "# Not a heading",
    "list": "- 1. not a list",
    "address": "<https://example.org> https://example.org/a_b_c",
    "backslashes": r"C:\mixes\*new*\\end",
    "reference": "[^1] [mine][1] [x]: y",
    "template": "{{ mix.name }} {% raw %}",
    "attributes": "title {: .evil } {#id}",
    "right to left": "שיר אהבה 2 (סופי).wav",
    "arabic": "أغنية_جديدة.wav",
    "emoji": "🎛️ drums 👩‍🎤 é",
}
EVERY_NAME = pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
OBEYED = ("\x1b[31mred\x1b[0m\n\r\t\u202eevil\u2066", "?[31mred?[0m????evil?")


class Text(HTMLParser):
    """Collects what a page shows, and the tags it shows it in."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.shown, self.tags = "", list[str]()
        self._inside = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert not [name for name, _ in attrs if name.startswith("on")]
        self.tags.append(tag)
        self._inside = tag

    def handle_data(self, data: str) -> None:
        if self._inside not in ("style", "script", "title"):
            self.shown += data


@EVERY_NAME
def test_a_name_is_text_in_the_page(name: str) -> None:
    page, plain_page = Text(html.render(with_clips(name, name))), Text(html.render(with_clips("zanzibar", "zanzibar")))
    assert f"Critique of {name}" in page.shown
    assert page.shown.count(name[1:]) == plain_page.shown.count("anzibar") > 2, "a title inside a sentence begins small"
    assert page.tags == plain_page.tags


@EVERY_NAME
def test_a_name_is_text_in_the_report_for_whoever_reads_it_as_it_is_or_set(name: str) -> None:
    written = markdown.render(with_clips(name, name))
    assert "&#" not in written.replace(name, "")
    assert name in Text(library.markdown(written, extensions=["tables"])).shown


@EVERY_NAME
def test_a_name_is_text_on_a_terminal(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    show(shown(name))
    assert capsys.readouterr().out == f"{name}\n"
    console = Console(file=io.StringIO(), force_terminal=True, width=200, color_system="truecolor")
    print_table(("Name",), [(shown(name),)], console=console)
    assert isinstance(console.file, io.StringIO)
    assert name in console.file.getvalue()


def test_what_a_terminal_or_a_reader_would_obey_is_shown_as_a_question_mark() -> None:
    assert shown(OBEYED[0]) == plain(OBEYED[0]).replace("\\", "") == OBEYED[1]
