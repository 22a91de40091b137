"""`mixproof watch`, `mixproof serve`, and `mixproof` alone."""

import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from urllib.request import urlopen

import pytest
import soundfile

from advisor.cli import watch
from advisor.cli.main import main
from advisor.store.home import VARIABLE
from tests.advisor.cli.test_command_line import RATE_HZ, music

MOST_IDLE_MIB = 120.0


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., None]:
    """Return a function that says what happens between looks at the folder; each look is a minute after the one before."""
    monkeypatch.setenv(VARIABLE, str(tmp_path / "home"))

    def between(*happenings: Callable[[], object]) -> None:
        turns, minutes = iter(happenings), iter(range(0, 60_000, 60))

        def happen(_seconds: float) -> None:
            happening = next(turns, None)
            if happening is None:
                raise KeyboardInterrupt
            happening()

        monkeypatch.setattr(watch, "sleep", happen)
        monkeypatch.setattr(watch, "monotonic", lambda: float(next(minutes)))

    return between


def test_each_bounce_is_critiqued_and_says_what_changed(
    tmp_path: Path, looks: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "bounces"
    folder.mkdir()
    sound = music(3.0)

    def rest() -> None:
        """Let a look pass."""

    looks(
        lambda: soundfile.write(folder / "take 1.wav", sound, RATE_HZ, subtype="PCM_24"),
        rest,
        lambda: (folder / "notes.wav").write_text("no sound at all", encoding="utf-8"),
        rest,
        lambda: folder.rename(tmp_path / "away"),
        lambda: (tmp_path / "away").rename(folder),
        lambda: soundfile.write(folder / "take 2.wav", sound[:, :1].repeat(2, axis=1), RATE_HZ, subtype="PCM_24"),
        rest,
    )
    assert main(["watch", str(folder), "--project", "Harbour", "--quick", "--out", str(tmp_path / "out")]) == 0
    shown = capsys.readouterr().out
    order = [
        "Watching",
        "take 1.wav",
        "notes.wav",
        "Not critiqued: ",
        "cannot be looked into",
        "is there again",
        "take 2.wav",
        "Solved",
        "Stopped",
    ]
    places = [shown.find(words) for words in order]
    assert -1 not in places, shown
    assert places == sorted(places), shown
    assert (tmp_path / "out" / "take 2-critique" / "report.html").is_file()
    assert sorted(path.name for path in folder.iterdir()) == ["notes.wav", "take 1.wav", "take 2.wav"]


def test_a_bounce_deleted_before_it_is_read_stops_only_itself(
    tmp_path: Path, looks: Callable[..., None], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from advisor.watching.folder import FinishedBounce, WatchedFolder  # noqa: PLC0415

    monkeypatch.setattr(WatchedFolder, "look", lambda _folder, _now_s: (FinishedBounce(tmp_path / "gone.wav", None),))
    looks(lambda: None)
    assert main(["watch", str(tmp_path), "--project", "Harbour"]) == 0
    assert capsys.readouterr().out.count("Not critiqued: ") == 2


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["watch", "/no/such/folder", "--project", "Harbour"], "is no folder"),
        (["watch", ".", "--project", " "], "needs a name"),
        (["serve", "--watch", "."], "needs its project"),
        (["serve", "--project", "Harbour"], "needs its project"),
        (["serve", "--port", "99999"], "Port 99999"),
    ],
)
def test_what_cannot_be_done_is_refused(arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 2
    assert words in capsys.readouterr().err


def test_alone_it_says_three_things_and_offers_the_page_to_a_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main([]) == 0
    assert re.findall(r"^  mixproof (\w+)", capsys.readouterr().out, flags=re.MULTILINE) == ["demo", "critique", "serve"]
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.setattr("typer.confirm", lambda _words, default: default)
    monkeypatch.setattr("advisor.page.server.listening", _ended)
    assert main([]) == 0
    assert "The page is closed" in capsys.readouterr().out
    monkeypatch.setattr("typer.confirm", lambda _words, default: not default)
    assert main([]) == 0
    assert "The page" not in capsys.readouterr().out


def _ended(_port: int | None) -> None:
    raise KeyboardInterrupt


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the system does not say how much memory a process holds")
def test_the_idle_page_is_small_answers_on_loopback_and_ends_in_words(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "advisor", "serve", "--no-browser", "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env={**os.environ, VARIABLE: str(tmp_path)}) as process:
        assert process.stdout is not None
        address = process.stdout.readline().split()[2]
        assert address.startswith("http://127.0.0.1:")
        with urlopen(address) as answer:  # noqa: S310 - our own server
            assert b"What should I fix" in answer.read()
        status = Path(f"/proc/{process.pid}/status").read_text(encoding="utf-8")
        process.send_signal(signal.SIGINT)
        assert "The page is closed" in process.stdout.read()
        assert process.wait(20) == 0
    (held_kib,) = re.findall(r"VmRSS:\s+(\d+)", status)
    assert int(held_kib) / 1024 < MOST_IDLE_MIB
