"""What a terminal shows: a bar that goes away again, tables that hold what the plain lines hold."""

import io
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from rich.console import Console

from advisor.app.progress import Plain
from advisor.cli.common import progress, show_table
from advisor.cli.display import ProgressBar, print_table
from rules.base import all_rules


def terminal() -> Console:
    return Console(file=io.StringIO(), force_terminal=True, width=70, color_system=None)


def shown(console: Console) -> str:
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def on_a_terminal(*arguments: str) -> tuple[int, str]:
    """Return status and output of the command line run in a terminal of its own."""
    ours, theirs = pty.openpty()
    environment = {**os.environ, "COLUMNS": "120", "TERM": "xterm"}
    with subprocess.Popen(
        [sys.executable, "-m", "advisor", *arguments], stdin=theirs, stdout=theirs, stderr=theirs, env=environment
    ) as run:
        os.close(theirs)
        parts = []
        while part := _read(ours):
            parts.append(part)
        status = run.wait()
    os.close(ours)
    return status, b"".join(parts).decode()


def _read(descriptor: int) -> bytes:
    try:
        return os.read(descriptor, 65536)
    except OSError:  # how a terminal says that nobody writes to it any more
        return b""


def test_a_step_is_shown_with_its_share_and_taken_away() -> None:
    console = terminal()
    bar = ProgressBar(console)
    bar.step("Measuring [song]")
    bar.advance(0.5)
    bar.announce("This takes a while [once].")
    bar.step("")
    text = shown(console)
    assert "Measuring [song]" in text
    assert "50%" in text
    assert "This takes a while [once]." in text
    assert text.endswith("\x1b[2K")  # the line of the bar is wiped
    assert text.count("\x1b[?25h") == text.count("\x1b[?25l") == 1  # the cursor comes back


def test_the_bar_starts_anew_with_each_step() -> None:
    console = terminal()
    bar = ProgressBar(console)
    bar.step("first")
    bar.advance(1.0)
    bar.step("second")
    bar.advance(0.25)
    bar.close()
    assert "25%" in shown(console)
    assert shown(console).rindex("second") > shown(console).rindex("first")


def test_nothing_but_announcements_is_written_where_nobody_watches() -> None:
    assert isinstance(progress(), Plain)


def test_names_are_no_markup_in_a_table() -> None:
    console = terminal()
    print_table(("Shelf", "Songs"), [("[red]techno[/red]", "3")], "More.", console)
    assert [line.split() for line in shown(console).splitlines() if line.strip("─ ")] == [
        ["Shelf", "Songs"], ["[red]techno[/red]", "3"], ["More."],
    ]  # fmt: skip


def test_a_pipe_gets_the_plain_lines(capsys: pytest.CaptureFixture[str]) -> None:
    show_table(("Shelf", "Songs"), [("techno", "3")], ["techno: 3 songs"])
    assert capsys.readouterr().out == "techno: 3 songs\n"


def test_the_rules_are_a_table_on_a_terminal() -> None:
    status, text = on_a_terminal("rules")
    assert status == 0
    assert "Looks for" in text
    assert [rule.id for rule in all_rules() if rule.id not in text] == []


def test_a_refusal_follows_a_cleared_bar(tmp_path: Path) -> None:
    status, text = on_a_terminal("critique", str(tmp_path / "none.wav"))
    assert status == 2
    assert "none.wav" in text.splitlines()[-1]
    assert text.count("\x1b[?25h") >= text.count("\x1b[?25l")
