"""`mixproof references` as it is typed: what it prints, what it asks, how it ends."""

import sys
from pathlib import Path

import pytest

from advisor.cli.main import main
from advisor.references import shelf
from advisor.references.records import Reference
from advisor.store.database import open_database
from tests.reference_shelf import shelf as some_songs
from tests.reference_shelf import write_song


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("MIXPROOF_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def fill(home: Path, name: str, songs: list[Reference]) -> None:
    with open_database(home) as opened:
        for reference in songs:
            shelf.keep(opened, Path(reference.path), reference.sha256, reference.song, name, (1, 2))


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    status = main(["references", *words])
    said = capsys.readouterr()
    return status, said.out, said.err


def test_add_list_show_and_remove(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_song(tmp_path / "songs" / "first.wav", 1)
    (tmp_path / "songs" / "broken.wav").write_bytes(b"not a song")
    status, said, _ = run(capsys, "add", "mine", str(tmp_path / "songs"))
    assert status == 0
    assert "1 added to 'mine', 1 skipped." in said
    assert "broken.wav" in said
    assert run(capsys, "list")[1] == "mine: 1 song\n"
    shown = run(capsys, "show", "mine")[1]
    assert "first" in shown
    assert "LUFS" in shown
    assert "width of the low end" in shown
    status, _, refused = run(capsys, "remove", "mine", "frist")
    assert (status, "Did you mean 'first.wav'" in refused) == (2, True)
    assert run(capsys, "remove", "mine", "first", "--yes")[1] == "first.wav is off the shelf 'mine'.\n"
    assert run(capsys, "remove", "mine", "--yes")[1] == "The shelf 'mine' is gone.\n"
    assert "no shelves yet" in run(capsys, "list")[1]


def test_nothing_that_could_be_added_is_a_refusal_with_reasons(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "broken.wav").write_bytes(b"not a song")
    status, said, refused = run(capsys, "add", "mine", str(tmp_path / "broken.wav"))
    assert status == 2
    assert "broken.wav" in said
    assert "None of these files" in refused


def test_removing_asks_and_without_anybody_there_does_nothing(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(home, "mine", some_songs(3))
    status, _, refused = run(capsys, "remove", "mine")
    assert (status, "add --yes" in refused) == (2, True)
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    monkeypatch.setattr("typer.confirm", lambda _: False)
    assert run(capsys, "remove", "mine")[1] == "Nothing was removed.\n"
    assert run(capsys, "list")[1] == "mine: 3 songs\n"
    monkeypatch.setattr("typer.confirm", lambda question: "3 songs" in question)
    assert "is gone" in run(capsys, "remove", "mine")[1]


@pytest.mark.parametrize("command", ["show", "groups", "remove"])
def test_an_unknown_shelf_suggests_the_near_name(home: Path, capsys: pytest.CaptureFixture[str], command: str) -> None:
    fill(home, "techno", some_songs(2))
    status, _, refused = run(capsys, command, "tecno")
    assert (status, "Did you mean 'techno'" in refused) == (2, True)


def test_groups_say_why_there_are_none(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    fill(home, "few", some_songs(11))
    assert "from 12 on" in run(capsys, "groups", "few")[1]
    fill(home, "many", some_songs(16))
    said = run(capsys, "groups", "many")[1]
    assert "one group" in said
    assert said.count("groups: no; ") == 3


def test_a_shelf_name_that_cannot_be_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, _, refused = run(capsys, "add", "a:b", str(tmp_path))
    assert (status, "cannot be called" in refused) == (2, True)
