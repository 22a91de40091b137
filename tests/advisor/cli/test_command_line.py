"""The command line from outside: what a user types, what comes back, and that bad input loses nothing."""

import json
import os
import struct
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from advisor.cli.main import kernel_folder, main

RATE_HZ = 44100
Refused = Callable[..., str]


def music(seconds: float, channels: int = 2) -> NDArray[np.float64]:
    """Return kicks, a bass and a noise hat: enough for every family to have something to measure."""
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    beat = time_s % 0.5
    noise = np.random.default_rng(3).normal(size=(channels, time_s.size))
    tune = 0.5 * np.sin(2 * np.pi * 60 * beat) * np.exp(-beat * 14) + 0.12 * np.sin(2 * np.pi * 110 * time_s)
    chord = sum(np.sin(2 * np.pi * hz * time_s) for hz in (330.0, 415.0, 494.0)) * 0.03
    shares = np.linspace(1.0, 0.8, channels)[:, None]
    sound: NDArray[np.float64] = ((tune + chord) * shares + 0.05 * noise * np.exp(-((time_s + 0.25) % 0.5) * 30)).T
    return sound


@pytest.fixture
def refused(capsys: pytest.CaptureFixture[str]) -> Refused:
    """Return a function that runs the command line, wants status 2 and one sentence on stderr, and returns it."""

    def run(*arguments: str | Path) -> str:
        assert main([str(argument) for argument in arguments]) == 2
        shown = capsys.readouterr()
        assert shown.out == ""
        assert len(shown.err.strip().splitlines()) == 1, shown.err
        assert "Traceback" not in shown.err
        return shown.err

    return run


def critiqued(mix: Path, *options: str) -> dict[str, object]:
    assert main(["critique", str(mix), "--quick", *options]) == 0
    document: dict[str, object] = json.loads((mix.with_name(f"{mix.stem}-critique") / "report.json").read_text(encoding="utf-8"))
    return document


def test_critique_writes_its_files_and_prints_the_verdict(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    soundfile.write(tmp_path / "mix.wav", music(12.0), RATE_HZ, subtype="PCM_24")
    document = critiqued(tmp_path / "mix.wav")
    written = sorted(path.name for path in (tmp_path / "mix-critique").iterdir())
    assert written == ["audition", "details.md", "report.html", "report.json", "report.md"]
    shown = capsys.readouterr().out
    assert str(document["verdict"]["sentence"]) in shown  # type: ignore[index]
    assert "report.html" in shown
    assert str(tmp_path / "mix-critique" / "audition") in shown
    assert document["failed"] == []


def test_missing_file_suggests_the_near_name(tmp_path: Path, refused: Refused) -> None:
    soundfile.write(tmp_path / "bounce-final.wav", music(1.0), RATE_HZ)
    assert "bounce-final.wav" in refused("critique", tmp_path / "bounce-finl.wav")


def test_a_folder_without_sound_is_refused(tmp_path: Path, refused: Refused) -> None:
    assert "folder" in refused("critique", tmp_path)


def test_a_text_called_wav_is_refused(tmp_path: Path, refused: Refused) -> None:
    (tmp_path / "notes.wav").write_text("these are my notes\n" * 50, encoding="utf-8")
    refused("critique", tmp_path / "notes.wav")


def test_no_samples_at_all_is_refused(tmp_path: Path, refused: Refused) -> None:
    soundfile.write(tmp_path / "empty.wav", np.zeros((0, 2)), RATE_HZ)
    refused("critique", tmp_path / "empty.wav")


def test_surround_is_refused_with_the_way_to_stereo(tmp_path: Path, refused: Refused) -> None:
    soundfile.write(tmp_path / "film.wav", music(1.0, channels=6), RATE_HZ)
    assert "stereo" in refused("critique", tmp_path / "film.wav")


def test_output_folder_that_is_a_file(tmp_path: Path, refused: Refused) -> None:
    soundfile.write(tmp_path / "mix.wav", music(1.0), RATE_HZ)
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    assert "--out" in refused("critique", tmp_path / "mix.wav", "--out", tmp_path / "taken")


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="the super-user may write anywhere")
def test_output_folder_without_permission(tmp_path: Path, refused: Refused) -> None:
    soundfile.write(tmp_path / "mix.wav", music(1.0), RATE_HZ)
    (tmp_path / "locked").mkdir(mode=0o500)
    assert "permission" in refused("critique", tmp_path / "mix.wav", "--out", tmp_path / "locked" / "report")


def test_unknown_setting_and_rule(tmp_path: Path, refused: Refused) -> None:
    soundfile.write(tmp_path / "mix.wav", music(1.0), RATE_HZ)
    (tmp_path / "mixproof.toml").write_text("target = -12\n", encoding="utf-8")
    assert "Did you mean 'target_lufs'" in refused("critique", tmp_path / "mix.wav")
    assert "Did you mean" in refused("explain", "mixing/stray_peek")


def test_wrong_use_of_the_command_line(refused: Refused) -> None:
    assert "critiqe" in refused("critiqe", "x.wav")
    assert "--stems" in refused("critique")
    assert "--help" in refused("explain")


def test_a_truncated_file_is_read_as_far_as_it_goes(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "whole.wav", music(12.0), RATE_HZ, subtype="PCM_16")
    whole = (tmp_path / "whole.wav").read_bytes()
    (tmp_path / "cut.wav").write_bytes(whole[: len(whole) // 2])
    document = critiqued(tmp_path / "cut.wav")
    assert document["mix"]["duration_s"] == pytest.approx(6.0, abs=0.1)  # type: ignore[index]
    assert document["notes"]


@pytest.mark.parametrize("seconds", [0.0001, 0.3])
def test_a_very_short_file_says_what_could_not_be_measured(tmp_path: Path, seconds: float) -> None:
    soundfile.write(tmp_path / "blip.wav", music(seconds), RATE_HZ, subtype="PCM_24")
    document = critiqued(tmp_path / "blip.wav")
    assert document["failed"] == []
    assert any(finding["rule"] == "delivery/too_short" for finding in document["findings"])  # type: ignore[attr-defined]


def test_digital_silence_gets_a_report_that_says_so(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "silence.wav", np.zeros((RATE_HZ * 5, 2)), RATE_HZ)
    document = critiqued(tmp_path / "silence.wav")
    assert "silent" in document["verdict"]["sentence"]  # type: ignore[index]
    assert document["failed"] == []
    assert {finding["stage"] for finding in document["findings"]} <= {"delivery"}  # type: ignore[attr-defined]


def test_samples_that_are_no_numbers_are_counted_and_survived(tmp_path: Path) -> None:
    sound = music(8.0)
    sound[1000:1003, 0] = (np.nan, np.inf, -np.inf)
    soundfile.write(tmp_path / "nan.wav", sound, RATE_HZ, subtype="FLOAT")
    document = critiqued(tmp_path / "nan.wav")
    assert document["failed"] == []
    assert any(finding["rule"] == "delivery/invalid_samples" for finding in document["findings"])  # type: ignore[attr-defined]


def test_mono_is_measured_as_mono(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "mono.wav", music(10.0, channels=1), RATE_HZ, subtype="PCM_24")
    document = critiqued(tmp_path / "mono.wav")
    assert document["failed"] == []
    assert document["measurements"]["stereo"]["correlation"] is None  # type: ignore[index]


@pytest.mark.parametrize("rate_hz", [8000, 22050, 96000, 192000])
def test_every_rate_is_read(tmp_path: Path, rate_hz: int) -> None:
    soundfile.write(tmp_path / "mix.wav", music(4.0), rate_hz, subtype="PCM_16")
    assert critiqued(tmp_path / "mix.wav")["failed"] == []


def test_a_header_that_lies_about_its_length(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "mix.wav", music(6.0), RATE_HZ, subtype="PCM_16")
    raw = bytearray((tmp_path / "mix.wav").read_bytes())
    place = raw.index(b"data") + 4
    raw[place : place + 4] = struct.pack("<I", 0x7FFFFF00)
    (tmp_path / "mix.wav").write_bytes(bytes(raw))
    assert critiqued(tmp_path / "mix.wav")["failed"] == []


def test_fail_on_gives_status_one(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "blip.wav", music(2.0), RATE_HZ, subtype="PCM_24")
    assert main(["critique", str(tmp_path / "blip.wav"), "--quick", "--fail-on", "delivery"]) == 1


def test_kernels_go_to_a_folder_that_can_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    folder = kernel_folder({})
    assert folder is not None
    assert folder.is_dir()
    assert kernel_folder({"NUMBA_CACHE_DIR": "/x"}) == Path("/x")


def test_version_of_the_program_runs_as_a_process(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "advisor", "critique", str(tmp_path / "none.wav")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "none.wav" in done.stderr
