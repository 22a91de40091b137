"""Several songs at once: a line and a report each, one page that leads to all, and no song that costs the rest."""

import re
from pathlib import Path

import pytest
import soundfile

from advisor.cli.main import main
from advisor.several import INDEX
from tests.advisor.cli.test_command_line import RATE_HZ, music

QUICK = ("--quick", "--no-audition")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("a_b [1].wav", "second song.wav"):
        soundfile.write(tmp_path / name, music(3.0), RATE_HZ, subtype="PCM_24")
    return tmp_path


def test_a_folder_gets_a_line_for_each_song_and_a_page(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "notes.txt").write_text("mine", encoding="utf-8")
    (folder / "broken.wav").write_text("these are my notes\n" * 50, encoding="utf-8")
    assert main(["critique", str(folder), *QUICK]) == 2, "the worst of all"
    shown = capsys.readouterr()
    lines = shown.out.splitlines()
    assert [line.split(": ")[0] for line in lines if line] == ["a_b [1].wav", "second song.wav", "All reports"]
    assert len(shown.err.splitlines()) == 1
    assert "broken.wav" in shown.err
    page = (folder / INDEX).read_text(encoding="utf-8")
    assert re.findall(r'href="([^"]+)"', page) == ["a_b%20%5B1%5D-critique/report.html", "second%20song-critique/report.html"]
    assert ">a_b [1].wav</a>" in page
    assert "Not critiqued" in page
    assert (folder / "a_b [1]-critique" / "report.html").is_file()


def test_songs_of_one_name_keep_their_own_reports(folder: Path) -> None:
    soundfile.write(folder / "second song.flac", music(3.0), RATE_HZ, subtype="PCM_24")
    songs = [str(folder / f"second song.{ending}") for ending in ("flac", "wav")]
    assert main(["critique", *songs, *QUICK, "--out", str(folder / "all"), "--fail-on", "delivery"]) == 1
    assert sorted(path.name for path in (folder / "all").iterdir()) == [INDEX, "second song-critique", "second song.wav-critique"]


@pytest.mark.parametrize("option", ["--stems", "--project"])
def test_what_belongs_to_one_song_is_refused(folder: Path, option: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["critique", str(folder), option, str(folder)]) == 2
    assert option in capsys.readouterr().err
    assert not (folder / INDEX).exists()


def test_stems_given_as_songs_are_pointed_out(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    soundfile.write(folder / "third.wav", music(3.0), RATE_HZ, subtype="PCM_24")
    assert main(["critique", str(folder), *QUICK]) == 0
    assert "--stems" in capsys.readouterr().err


def test_an_empty_folder_is_said_to_be_empty(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["critique", str(tmp_path)]) == 2
    assert "holds no sound file" in capsys.readouterr().err
