"""`mixproof history` from outside: what a user types, what comes back, and that nothing goes without being asked."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from advisor.cli.main import main
from advisor.history import course
from advisor.store.database import FILE_NAME, open_database
from advisor.store.home import VARIABLE
from rules.remedy import Remedy
from tests import records
from tests.advisor.history.bounces import bounce, found, planned, record

Run = Callable[..., tuple[int, str, str]]
LEFT_DOWN = Remedy("gain", part="left", gain_db=-2.0)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Return a function that runs `mixproof history` in a home of its own: status, stdout, stderr."""
    monkeypatch.setenv(VARIABLE, str(tmp_path))

    def history(*arguments: str) -> tuple[int, str, str]:
        status = main(["history", *arguments])
        shown = capsys.readouterr()
        assert "Traceback" not in shown.err
        return status, shown.out, shown.err

    return history


@pytest.fixture
def two(tmp_path: Path) -> None:
    """Record two bounces: a lean that is mended, and a rule of ours that stays."""
    rule = ("stray_peaks", found(1.0))
    first = bounce(1, rule, ("left_right_imbalance", found(1.0, remedy=LEFT_DOWN)), stereo=records.stereo(balance_db=2.0))
    record(tmp_path, planned(first, "mixing/left_right_imbalance", LEFT_DOWN))
    record(tmp_path, bounce(2, rule, ("left_right_imbalance", None), outlook=records.outlook(clean_lufs=-11.0)))


def test_without_a_project_it_says_how_to_start_and_makes_no_file(run: Run, tmp_path: Path) -> None:
    status, out, _ = run()
    assert status == 0
    assert "--project" in out
    assert not (tmp_path / FILE_NAME).exists()
    assert run("Harbour")[0] == 2


@pytest.mark.usefixtures("two")
def test_it_lists_projects_and_shows_one_with_its_course(run: Run) -> None:
    assert "Harbour  2 bounces, the last on 2030-01-02" in run()[1]
    status, out, _ = run("Harbour")
    assert status == 0
    rows = [line.split() for line in out.splitlines() if line.strip().startswith(("1 ", "2 "))]
    assert [row[-3:] for row in rows] == [["2", "0", "2"], ["0", "1", "1"]]  # opened, closed, still open
    assert "bounce 2" in out
    assert "-11.0 LUFS" in out
    assert "| target -13 LUFS" in out


@pytest.mark.usefixtures("two")
def test_one_bounce_in_full(run: Run) -> None:
    status, out, _ = run("Harbour", "--bounce", "2")
    assert status == 0
    assert "Solved:\n  Title of left_right_imbalance" in out
    assert "1. Title of left_right_imbalance: done (high)" in out
    assert "Found:" in run("Harbour", "--bounce", "1")[1]
    status, _, err = run("Harbour", "--bounce", "3")
    assert status == 2
    assert "1 to 2" in err


@pytest.mark.usefixtures("two")
def test_unknown_names_suggest_the_nearest(run: Run) -> None:
    assert "Did you mean 'Harbour'?" in run("Harbor")[2]
    assert "Did you mean 'stray_peaks'?" in run("Harbour", "--set-aside", "stray_peeks", "--because", "x")[2]
    assert "It found: mixing/stray_peaks" in run("Harbour", "--set-aside", "mono_loss", "--because", "x")[2]


@pytest.mark.usefixtures("two")
def test_export_holds_everything(run: Run) -> None:
    document = json.loads(run("Harbour", "--export", "json")[1])
    assert [entry["report"]["mix"]["name"] for entry in document["bounces"]] == ["take-1.wav", "take-2.wav"]
    assert document["bounces"][1]["report"]["history"]["steps"][0]["verdict"] == "done"
    text = run("Harbour", "--export", "md")[1]
    assert text.startswith("# Harbour\n")
    assert "## Bounce 2: take-2.wav" in text


@pytest.mark.usefixtures("two")
def test_set_aside_and_take_back(run: Run) -> None:
    assert "--because" in run("Harbour", "--set-aside", "stray_peaks")[2]
    status, out, _ = run("Harbour", "--set-aside", "stray_peaks", "--because", "they are the\nidea")
    assert status == 0
    assert "because “they are the idea”" in out
    assert "[mixing/stray_peaks], since bounce 2" in run("Harbour")[1]
    assert json.loads(run("Harbour", "--export", "json")[1])["set_aside"][0]["rule"] == "mixing/stray_peaks"
    assert run("Harbour", "--take-back", "mixing/stray_peaks")[0] == 0
    assert "Nothing is set aside" in run("Harbour", "--take-back", "stray_peaks")[2]


@pytest.mark.usefixtures("two")
def test_delete_asks_and_can_be_undone(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    status, _, err = run("Harbour", "--delete")  # nobody there
    assert status == 2
    assert "--yes" in err
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    for answer, words in ((False, "Nothing was deleted"), (True, "is deleted. For 30 days")):
        monkeypatch.setattr("typer.confirm", lambda _question, answer=answer: answer)
        assert words in run("Harbour", "--delete")[1]
    assert run("Harbour")[0] == 2
    assert "is back, with 2 bounces" in run("Harbour", "--restore")[1]
    assert run("Harbour")[0] == 0
    assert run("Harbour", "--delete", "--yes")[0] == 0
    assert "Did you mean 'Harbour'?" in run("Harbor", "--restore")[2]


@pytest.mark.usefixtures("two")
def test_one_thing_at_a_time(run: Run) -> None:
    assert "Only one of" in run("Harbour", "--delete", "--restore")[2]
    assert "Which project?" in run("--delete")[2]
    assert "--set-aside" in run("Harbour", "--because", "x")[2]


def test_a_strange_name_is_shown_on_one_line_and_obeyed_by_no_terminal(run: Run, tmp_path: Path) -> None:
    name = "\x1b[2J" + "x" * 300 + "\n'; --"
    record(tmp_path, bounce(1, ("one", found(1.0))), name=name)
    for arguments in ((), (name,), (name, "--bounce", "1"), (name, "--export", "md")):
        status, out, _ = run(*arguments)
        assert status == 0
        assert "\x1b" not in out
        assert "xxxx" in out
    assert json.loads(run(name, "--export", "json")[1])["project"] == name


def test_a_damaged_file_is_named(run: Run, tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).write_bytes(b"no database" * 200)
    assert ".damaged-" in run()[1]
    with open_database(tmp_path) as opened:
        assert opened.set_aside is None


def test_the_chart_puts_target_and_levels_at_their_places() -> None:
    lines = list(course.chart([(1, -15.0), (2, None), (10, -11.0)], -13.0))
    assert [len(line.partition("|")[0]) for line in (lines[0], lines[3])] == [lines[2].index("|")] * 2
    assert lines[0].count("#") < lines[2].count("#")
    assert lines[1].endswith("not measured")
    assert list(course.chart([(1, None)], -13.0)) == []
