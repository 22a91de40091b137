"""Runs other programs, bounded in time, memory and output.

What a program says comes through a pipe. Should this process be killed, the pipe breaks, and the program ends at its next write.
"""

import os
import signal
import subprocess
import tempfile
from contextlib import suppress
from dataclasses import dataclass
from threading import Timer
from typing import BinaryIO

MEMORY_BYTES = 1 << 30
SAID_BYTES = 1 << 16
FILE_BYTES = 1 << 20  # of what it complains, and of any file it might write: the sound comes through the pipe
PIECE_BYTES = 1 << 18


class ProgramError(Exception):
    """A program could not be run to its end.

    The message is a clause that says why.
    """


@dataclass(frozen=True, slots=True)
class Finished:
    """How a program ended, and what it said on stderr."""

    status: int
    said: str


def run(command: list[str], output: BinaryIO, *, seconds: float, most_bytes: int) -> Finished:
    """Run a program, and write what it prints.

    Raises
    ------
    ProgramError
        When it cannot be started, takes more than ``seconds`` or prints more than ``most_bytes``.
    OSError
        When ``output`` takes no more.
    """
    with tempfile.TemporaryFile() as complaints:
        try:
            process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=complaints, start_new_session=True)
        except (OSError, ValueError) as error:
            raise ProgramError(str(error)) from None
        late: list[bool] = []

        def stop() -> None:
            late.append(True)
            _kill(process)

        timer = Timer(seconds, stop)
        timer.daemon = True
        timer.start()
        try:
            _bound(process.pid, seconds)
            _copy(process, output, most_bytes)
            status = process.wait()
        finally:
            timer.cancel()
            _kill(process)
            process.wait()
            if process.stdout is not None:
                process.stdout.close()
        if late:
            raise ProgramError(f"it took more than {seconds:.0f} s")
        complaints.seek(0)
        return Finished(status, complaints.read(SAID_BYTES).decode("utf-8", "replace"))


def _copy(process: subprocess.Popen[bytes], output: BinaryIO, most_bytes: int) -> None:
    written = 0
    while process.stdout is not None and (piece := process.stdout.read(PIECE_BYTES)):
        written += len(piece)
        if written > most_bytes:
            raise ProgramError(f"it gave more than {most_bytes >> 20} MiB")
        output.write(piece)


def _kill(process: subprocess.Popen[bytes]) -> None:
    """End the program with everything that it started; its number is still its own until it was waited for."""
    if process.returncode is not None:
        return
    with suppress(OSError):
        if hasattr(os, "killpg"):
            os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()


def _bound(process: int, seconds: float) -> None:
    """Bound a running program where the system can; elsewhere time and output alone are bounded."""
    with suppress(ImportError, AttributeError, OSError, ValueError):
        import resource  # noqa: PLC0415 - not on every system

        for kind, most in (
            (resource.RLIMIT_DATA, MEMORY_BYTES),
            (resource.RLIMIT_FSIZE, FILE_BYTES),
            (resource.RLIMIT_CPU, int(seconds) + 1),
        ):
            resource.prlimit(process, kind, (most, most))
