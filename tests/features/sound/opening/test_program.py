"""Other programs: bounded in time and output, heard on stderr, and gone afterwards."""

import os
import subprocess
import sys
import time
from io import BytesIO
from pathlib import Path

import pytest

from features.sound.opening.program import ProgramError, run

PYTHON = [sys.executable, "-c"]


def test_what_it_prints_and_says_comes_back() -> None:
    printed = BytesIO()
    done = run([*PYTHON, "import sys; print('sound'); sys.exit('why')"], printed, seconds=60.0, most_bytes=100)
    assert (done.status, done.said.strip(), printed.getvalue().strip()) == (1, "why", b"sound")


def test_a_program_that_hangs_is_ended() -> None:
    with pytest.raises(ProgramError, match="more than"):
        run([*PYTHON, "import time; time.sleep(600)"], BytesIO(), seconds=0.5, most_bytes=100)


def test_a_program_that_prints_without_end_is_ended() -> None:
    printed = BytesIO()
    with pytest.raises(ProgramError, match="MiB"):
        run([*PYTHON, "while True: print('x' * 10000)"], printed, seconds=60.0, most_bytes=1 << 20)
    assert len(printed.getvalue()) <= 1 << 20


def test_a_program_that_is_not_there() -> None:
    with pytest.raises(ProgramError, match="no-such-program"):
        run(["/no-such-program"], BytesIO(), seconds=1.0, most_bytes=1)


@pytest.mark.skipif(os.name != "posix", reason="kills as POSIX does")
def test_it_dies_with_us(tmp_path: Path) -> None:
    child = f"import os, time; open({str(tmp_path / 'pid')!r}, 'w').write(str(os.getpid()))\nwhile True: print('x' * 999, flush=True)"
    ours = (
        "import sys, io, os; from features.sound.opening.program import run\n"
        f"run([sys.executable, '-c', {child!r}], open(os.devnull, 'wb'), seconds=600, most_bytes=1 << 60)"
    )
    process = subprocess.Popen([*PYTHON, ours], cwd=Path(__file__).parents[4])
    while not (tmp_path / "pid").exists() or not (tmp_path / "pid").read_text():
        assert process.poll() is None
        time.sleep(0.02)
    process.kill()
    process.wait()
    number = int((tmp_path / "pid").read_text())
    while _runs(number):  # hangs here, and is ended by the test run's own bound, where it outlives us
        time.sleep(0.02)


def _runs(number: int) -> bool:
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{number}/stat")
    return not (state.exists() and state.read_text().rsplit(")", 1)[1].split()[0] == "Z")
