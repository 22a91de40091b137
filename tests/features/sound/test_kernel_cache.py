"""Compiled kernels on disk: whatever happens to the files, the kernel runs and gives the same."""

import hashlib
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
import numpy as np
import pytest
from numpy.typing import NDArray

from features.sound.compiled import kernel

ROOT = Path(__file__).parents[3]
Damage = Callable[[bytes], bytes]


def doubled(values: NDArray[np.float64]) -> float:
    total = 0.0
    for value in values:
        total += 2.0 * value
    return total


@pytest.fixture
def place(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path))
    return tmp_path


def runs() -> None:
    assert kernel(doubled)(np.array([1.0, 2.0])) == 6.0


def kept(place: Path) -> list[Path]:
    return sorted(place.rglob("*.kernel"))


def test_a_kernel_is_compiled_once(place: Path) -> None:
    runs()
    (path,) = kept(place)
    before = path.stat().st_mtime_ns
    again: Any = kernel(doubled)
    assert again(np.array([1.0])) == 2.0
    assert again.stats.cache_hits
    assert path.stat().st_mtime_ns == before


@pytest.mark.parametrize(
    "damage",
    [lambda _: b"", lambda whole: whole[:40], lambda whole: whole[:-1] + bytes([whole[-1] ^ 1]), lambda _: b"\x80" * 500],
    ids=["empty", "cut", "one bit", "noise"],
)
def test_a_damaged_file_is_compiled_anew(place: Path, damage: Damage) -> None:
    runs()
    (path,) = kept(place)
    whole = path.read_bytes()
    path.write_bytes(damage(whole))
    runs()
    assert len(path.read_bytes()) > 40
    again: Any = kernel(doubled)
    again(np.array([1.0]))
    assert again.stats.cache_hits, "it is mended"


def test_a_full_disk_keeps_no_kernel_from_running(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    runs()
    assert [path for path in place.rglob("*") if path.is_file()] == []


def test_signatures_have_files_of_their_own(place: Path) -> None:
    runs()
    single: Any = np.array([1.0, 2.0], np.float32)
    assert kernel(doubled)(single) == 6.0
    assert len(kept(place)) == 2


def test_runs_at_once_leave_whole_files(place: Path) -> None:
    code = (
        "import sys, numpy as np; from features.sound.compiled import kernel\n"
        "from tests.features.sound.test_kernel_cache import doubled\n"
        "assert kernel(doubled)(np.ones(3, sys.argv[1])) == 6.0"
    )
    environment = {"NUMBA_CACHE_DIR": str(place), "PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"}
    started = [subprocess.Popen([sys.executable, "-c", code, kind], env=environment, cwd=ROOT) for kind in ("f4", "f8", "i4")]
    assert [process.wait() for process in started] == [0, 0, 0]
    for path in kept(place):
        whole = path.read_bytes()
        assert hashlib.sha256(whole[32:]).digest() == whole[:32]
    assert len(kept(place)) == 3
