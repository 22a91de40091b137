"""Takes every request to stop alike.

Ctrl-C, the end of the session and the system's request are one thing.
"""

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import current_thread, main_thread
from types import FrameType
from typing import Any

NUMBERS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))


class StoppedError(KeyboardInterrupt):
    """Somebody asked the program to stop.

    ``done`` says that it had just finished writing.
    """

    def __init__(self, number: int = signal.SIGINT, *, done: bool = False) -> None:
        """Take the signal's number."""
        super().__init__()
        self.number = number
        self.done = done


class _Holding:
    """Whether stopping has to wait, the signal that waits, and the one that broke in."""

    depth = 0
    waiting: int | None = None
    raised: int | None = None


def listen() -> None:
    """Let every request to stop act as Ctrl-C does.

    Unless the caller has it ignored (nohup).
    """
    for number in NUMBERS:
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _stop)


def _stop(number: int, _frame: FrameType | None) -> None:
    if _Holding.depth:
        _Holding.waiting = number
        return
    _Holding.raised = number
    raise StoppedError(number)


def insist() -> None:
    """Raise again what a library took for its own."""
    if _Holding.raised is not None:
        raise StoppedError(_Holding.raised)


def heeded() -> None:
    """Take a request to stop as the work's own end.

    For what runs until it is stopped.
    """
    _Holding.raised = None


@contextmanager
def uninterrupted() -> Iterator[None]:
    """Let a request to stop wait.

    Until what is being written is whole.
    """
    if current_thread() is not main_thread():
        yield
        return
    before = {number: signal.getsignal(number) for number in NUMBERS}
    _Holding.depth += 1
    for number, handler in before.items():
        if handler is not signal.SIG_IGN:
            signal.signal(number, _stop)
    try:
        yield
    finally:
        _Holding.depth -= 1
        _put_back(before)
    if not _Holding.depth and _Holding.waiting is not None:
        number, _Holding.waiting = _Holding.waiting, None
        raise StoppedError(number, done=True)


@contextmanager
def at_leisure(ask: Callable[[], None]) -> Iterator[None]:
    """Let the first request to stop call ``ask``.

    The work goes on; a second one breaks in.
    """
    if current_thread() is not main_thread():
        yield
        return
    before = {number: signal.getsignal(number) for number in NUMBERS}

    def asked(_number: int, _frame: FrameType | None) -> None:
        ask()
        _put_back(before)

    for number, handler in before.items():
        if handler is not signal.SIG_IGN:
            signal.signal(number, asked)
    try:
        yield
    finally:
        _put_back(before)


def _put_back(before: dict[int, Any]) -> None:
    for number, handler in before.items():
        signal.signal(number, handler)
