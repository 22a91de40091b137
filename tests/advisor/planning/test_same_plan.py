"""The same file and settings give the same plan: twice in one process, and in another whose sets and dicts are ordered otherwise."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from threadpoolctl import threadpool_limits

from advisor.app.settings import Settings
from advisor.critique import critique
from demo.arrangement import make_song
from demo.mixdown import mix_bounce_a
from demo.song import HARBOUR

RATE_HZ = 44100
SECONDS = 16
SAME = ("findings", "plan", "verdict", "measurements")


@pytest.fixture(scope="module")
def mix(tmp_path_factory: pytest.TempPathFactory) -> Path:
    plan = HARBOUR.shortened(2)
    path = tmp_path_factory.mktemp("song") / "mix.wav"
    song = mix_bounce_a(make_song(1, plan), plan).samples[:, : SECONDS * RATE_HZ] * np.array([[0.8], [0.5]])  # leaning, with a wide low end
    time_s = np.arange(song.shape[1]) / RATE_HZ
    wide = 0.08 * np.sin(2 * np.pi * 70.0 * time_s) * (0.6 + 0.4 * np.sin(2 * np.pi * 0.3 * time_s))
    soundfile.write(path, (song + np.array([[1.0], [-1.0]]) * wide).T, RATE_HZ, subtype="PCM_24")
    return path


@pytest.fixture(scope="module")
def first(mix: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return here(mix, tmp_path_factory.mktemp("first") / "out")


def here(mix: Path, out: Path) -> dict[str, Any]:
    """Critique in this process, whose order of sets is its own, with sums in one thread as the command does them."""
    with threadpool_limits(1):
        return written(critique(mix, Settings(audition=False), out).folder)


def by_command(mix: Path, out: Path, seed: str) -> dict[str, Any]:
    command = [sys.executable, "-m", "advisor", "critique", str(mix), "--out", str(out), "--no-audition"]
    done = subprocess.run(command, env={**os.environ, "PYTHONHASHSEED": seed}, capture_output=True, text=True, check=False)
    assert (out / "report.json").is_file(), done.stderr
    return written(out)


def written(folder: Path) -> dict[str, Any]:
    report: dict[str, Any] = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    return report


def same_in_both(report: dict[str, Any]) -> str:
    return json.dumps({name: report[name] for name in SAME})


def test_the_song_has_a_plan_to_compare(first: dict[str, Any]) -> None:
    assert len(first["plan"]) >= 2
    assert sum(finding["trial"] is not None for finding in first["findings"]) >= 3


def test_twice_in_one_process(mix: Path, first: dict[str, Any], tmp_path: Path) -> None:
    assert same_in_both(here(mix, tmp_path / "out")) == same_in_both(first)


def test_in_another_process_with_other_hashes(mix: Path, first: dict[str, Any], tmp_path: Path) -> None:
    assert same_in_both(by_command(mix, tmp_path / "out", "4711")) == same_in_both(first)


def test_the_same_song_looped_gets_the_same_decisions(mix: Path, first: dict[str, Any], tmp_path: Path) -> None:
    """Twice as long, it is tried on other stretches: what is advised stays, its amounts to within half a decibel."""
    sound, rate_hz = soundfile.read(mix)
    soundfile.write(tmp_path / "looped.wav", np.concatenate((sound, sound)), rate_hz, subtype="PCM_24")
    looped = here(tmp_path / "looped.wav", tmp_path / "out")
    moves, again = ([(step["remedy"]["kind"], step["remedy"]["part"]) for step in report["plan"]] for report in (first, looped))
    assert moves == again
    gains, others = ([step["remedy"].get("gain_db") or 0.0 for step in report["plan"]] for report in (first, looped))
    assert gains == pytest.approx(others, abs=0.5)
