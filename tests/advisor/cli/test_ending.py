"""How a command ends: a status, one sentence, and nothing lost, whatever the streams, the signals and the machine do."""

import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from advisor.app.stopping import StoppedError, uninterrupted
from advisor.app.streams import safe
from advisor.cli import main as cli_main
from advisor.cli.ending import ending
from advisor.cli.main import main

ROOT = Path(__file__).parents[3]
posix = pytest.mark.skipif(os.name != "posix", reason="signals and streams as POSIX has them")


def mixproof(*arguments: str | bytes | Path, before: Callable[[], None] | None = None, **named: object) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    streams: dict[str, object] = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **named}
    command = [sys.executable, "-m", "advisor", *arguments]
    return subprocess.Popen(command, env=environment, preexec_fn=before, **streams)  # type: ignore[call-overload,no-any-return]  # noqa: PLW1509


def ended(process: subprocess.Popen[bytes]) -> tuple[int, str]:
    _, said = process.communicate()
    text = (said or b"").decode()
    assert "Traceback" not in text
    assert len(text.splitlines()) <= 1
    return process.returncode, text


@posix
def test_full_and_closed_streams_get_status_two() -> None:
    with Path("/dev/full").open("wb") as full:
        status, said = ended(mixproof("explain", "mixing/stray_peaks", stdout=full))
        assert (status, "could not be printed" in said) == (2, True)
        assert ended(mixproof("critique", "none.wav", stderr=full))[0] == 2
    status, said = ended(mixproof("explain", "mixing/stray_peaks", before=lambda: os.close(1)))
    assert (status, "closed" in said) == (2, True)
    assert ended(mixproof("critique", "none.wav", before=lambda: os.close(2)))[0] == 2


@posix
def test_a_reader_that_goes_away_ends_it_quietly() -> None:
    reading, writing = os.pipe()
    process = mixproof("explain", "mixing/stray_peaks", stdout=writing)
    os.close(writing)
    os.close(reading)
    assert ended(process) == (141, "")


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="sees there what the process reads")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_being_stopped_says_so_and_leaves_nothing(tmp_path: Path, number: signal.Signals) -> None:
    noise = np.random.default_rng(1).standard_normal((44100 * 120, 2)) * 0.1
    soundfile.write(tmp_path / "mix.wav", noise, 44100, subtype="PCM_16")

    def heard() -> None:
        signal.signal(number, signal.default_int_handler if number == signal.SIGINT else signal.SIG_DFL)

    process = mixproof("critique", tmp_path / "mix.wav", before=heard)
    while not _busy(process.pid):
        assert process.poll() is None
        time.sleep(0.05)
    process.send_signal(number)
    status, said = ended(process)
    assert (status, said.startswith("Stopped.")) == (128 + number, True)
    assert [path.name for path in tmp_path.iterdir()] == ["mix.wav"]


def _busy(process: int) -> bool:
    """Whether the process reads the song: its handlers are set long before."""
    try:
        return any(opened.readlink().name == "mix.wav" for opened in Path(f"/proc/{process}/fd").iterdir())
    except OSError:
        return False


def test_a_request_to_stop_waits_for_what_is_being_written() -> None:
    done = []

    def write() -> None:
        with uninterrupted():
            os.kill(os.getpid(), signal.SIGTERM)
            os.kill(os.getpid(), signal.SIGINT)
            done.append("whole")

    with pytest.raises(StoppedError) as caught:
        write()
    assert (done, caught.value.done) == (["whole"], True)


@posix
def test_more_stems_than_open_files_is_said(tmp_path: Path) -> None:
    for number in range(40):
        soundfile.write(tmp_path / f"{number}.wav", np.full((441, 1), 0.1), 44100)
    status, said = ended(mixproof("critique", "--stems", tmp_path, before=lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (32, 32))))
    assert (status, "ulimit" in said) == (2, True)


@pytest.mark.parametrize("path", [".", "", "/"])
def test_paths_without_a_name(path: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["master", path]) == 2
    assert "is a folder" in capsys.readouterr().err
    assert main(["critique", path, "--quick"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_an_output_folder_that_loops(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    soundfile.write(tmp_path / "mix.wav", np.full((441, 1), 0.1), 44100)
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    assert main(["critique", str(tmp_path / "mix.wav"), "--out", str(tmp_path / "loop")]) == 2
    assert "lead back to themselves" in capsys.readouterr().err


@pytest.mark.parametrize("name", [b"caf\xe9.wav", b"n" * 247 + b".wav", "ü".encode() * 120 + b".wav"])
def test_names_of_any_bytes_and_length(tmp_path: Path, name: bytes) -> None:
    path = os.fsdecode(os.fsencode(tmp_path) + b"/" + name)
    soundfile.write(os.fsencode(path), np.random.default_rng(1).standard_normal((44100, 1)) * 0.1, 44100, format="WAV")
    assert main(["critique", path, "--quick"]) == 0
    assert len(list(tmp_path.glob("*-critique/report.json"))) == 1


def test_a_message_is_neither_obeyed_nor_endless(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "\x1b[31m" + "x" * 1_000_000]) == 2
    said = capsys.readouterr().err
    assert "\x1b" not in said
    assert len(said) < 3000
    assert safe("a\x1b[2J\u202eb\udce9\n") == "a?[2J?b?\n"


def test_our_own_fault_has_a_status_of_its_own_and_a_place(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("MIXPROOF_HOME", str(tmp_path))

    def broken(_arguments: list[str]) -> int:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(cli_main, "_run_command", broken)
    assert main(["rules"]) == 3
    said = capsys.readouterr().err
    assert str(tmp_path / "last-fault.txt") in said
    assert "ZeroDivisionError" in (tmp_path / "last-fault.txt").read_text(encoding="utf-8")
    assert [path.name for path in tmp_path.iterdir()] == ["last-fault.txt"]


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError(28, "No space left on device", "x"), "disk is full"), (OSError(24, "Too many open files", "x"), "ulimit"),
        (PermissionError(13, "Permission denied", "a\x1bb"), "“a?b” could not be used"), (MemoryError(), "not enough memory"),
        (EOFError(), "Nobody answered"), (ImportError("libx.so: failed to map segment"), "could not be loaded"),
    ],
)  # fmt: skip
def test_what_the_machine_refuses_is_said(error: Exception, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert ending(error) == 2
    assert words in capsys.readouterr().err


def test_the_user_s_number_of_threads_changes_no_digit(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in cli_main.ONE_THREAD:
        monkeypatch.setenv(name, "4")
    cli_main.prepare_process()
    assert {os.environ[name] for name in cli_main.ONE_THREAD} == {"1"}
