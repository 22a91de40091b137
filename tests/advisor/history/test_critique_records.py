"""From sound through the command line: a critique records, the next one compares, and the demo keeps to its own folder."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from advisor.cli.main import main
from advisor.history import store
from advisor.store.database import FILE_NAME, open_database
from advisor.store.home import VARIABLE
from demo import write
from demo.write import DemoPaths
from tests.advisor.cli.test_command_line import RATE_HZ, music


def leaning(path: Path, left_db: float) -> Path:
    """Write a short song that leans to the left by so much."""
    sound = np.repeat(music(12.0, channels=1), 2, axis=1) * (0.5 * 10 ** (left_db / 20.0), 0.5)
    soundfile.write(path, sound, RATE_HZ, subtype="PCM_24")
    return path


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "home"))
    return tmp_path / "home"


def report_of(mix: Path) -> dict[str, Any]:
    document: dict[str, Any] = json.loads((mix.with_name(f"{mix.stem}-critique") / "report.json").read_text(encoding="utf-8"))
    return document


def test_two_bounces_tell_that_the_lean_is_gone(tmp_path: Path, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first, second = leaning(tmp_path / "one.wav", 5.0), leaning(tmp_path / "two.wav", 0.0)
    for mix in (first, second):
        assert main(["critique", str(mix), "--quick", "--no-audition", "--project", "Lean / '🎛️'"]) == 0
    shown = capsys.readouterr().out
    assert "Recorded as the first bounce of 'Lean / '🎛️''" in shown
    assert "Solved: Mix leans" in shown
    states = {finding["rule"]: finding["state"] for finding in report_of(second)["history"]["findings"]}
    assert states["mixing/left_right_imbalance"] == "solved"
    assert "## Since your last bounce" in (tmp_path / "two-critique" / "report.md").read_text(encoding="utf-8")
    assert sorted(path.name for path in home.iterdir()) == [FILE_NAME]
    assert main(["critique", str(second), "--quick", "--no-audition", "--project", "Lean / '🎛️'"]) == 0
    assert "is bounce 2 of" in capsys.readouterr().out


def test_set_aside_reaches_judging_and_verdict(tmp_path: Path, home: Path) -> None:
    mix = leaning(tmp_path / "one.wav", 5.0)
    run = ["critique", str(mix), "--quick", "--no-audition", "--project", "Lean"]
    assert main(run) == 0
    assert main(["history", "Lean", "--set-aside", "left_right_imbalance", "--because", "the left is where the story is"]) == 0
    assert main(run) == 0
    report = report_of(mix)
    assert "mixing/left_right_imbalance" not in {finding["rule"] for finding in report["findings"]} | set(report["passed"])
    assert [aside["because"] for aside in report["history"]["set_aside"]] == ["the left is where the story is"]
    assert home.exists()


def test_without_a_project_nothing_is_kept(tmp_path: Path, home: Path) -> None:
    mix = leaning(tmp_path / "one.wav", 0.0)
    assert main(["critique", str(mix), "--quick", "--no-audition"]) == 0
    assert report_of(mix)["history"] is None
    assert not home.exists()


@pytest.mark.usefixtures("home")
def test_the_demo_records_both_bounces_in_its_own_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], home: Path
) -> None:
    def short(folder: Path, _progress: Callable[[str], None]) -> DemoPaths:
        folder.mkdir()
        a, b = leaning(folder / "bounce-a.wav", 5.0), leaning(folder / "bounce-b.wav", 0.0)
        return DemoPaths(folder, a, b, folder / "stems", folder / "stems-b", folder / "references", folder / "history")

    monkeypatch.setattr(write, "write_demo", short)
    assert main(["demo", "--out", str(tmp_path / "demo"), "--quick"]) == 0
    shown = capsys.readouterr().out
    assert "Solved: Mix leans" in shown
    assert f"{VARIABLE}={tmp_path / 'demo' / 'history'} mixproof history" in shown
    assert not home.exists()
    with open_database(tmp_path / "demo" / "history") as opened, opened.reading() as read:
        assert [project.bounces for project in store.projects(read)] == [2]
