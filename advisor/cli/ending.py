"""Turns whatever ends a command into status and sentence."""

import errno
import os
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from advisor.app.stopping import StoppedError
from advisor.app.streams import OutputError, say

IN_THE_WAY = 1
CANNOT = 2
FAULT = 3
SIGNALLED = 128
INTERRUPTED = SIGNALLED + 2
NOBODY_READS = SIGNALLED + 13  # as a shell reports a broken pipe
Arguments = ParamSpec("Arguments")
Result = TypeVar("Result")


class PassedOnError(Exception):
    """Carries its cause past the command line's library.

    That library has endings of its own.
    """


def passed_on(command: Callable[Arguments, Result]) -> Callable[Arguments, Result]:
    """Return the command, its ends kept for `ending`."""

    @wraps(command)
    def call(*arguments: Arguments.args, **options: Arguments.kwargs) -> Result:
        try:
            return command(*arguments, **options)
        except (KeyboardInterrupt, OSError, EOFError) as error:
            raise PassedOnError from error

    return call


def ending(error: BaseException) -> int:
    """Say why a command ended, and return its status."""
    if isinstance(error, PassedOnError) and error.__cause__ is not None:
        error = error.__cause__
    if isinstance(error, KeyboardInterrupt):
        return _stopped(error)
    if isinstance(error, BrokenPipeError):
        return NOBODY_READS
    words = _words(error)
    if words is None:
        return _fault(error)
    say(words)
    return CANNOT


def _stopped(error: KeyboardInterrupt) -> int:
    done = isinstance(error, StoppedError) and error.done
    say("Stopped, after everything was written." if done else "Stopped. Nothing that was there before was changed.")
    return SIGNALLED + (error.number if isinstance(error, StoppedError) else 2)


def _words(error: BaseException) -> str | None:
    """Return the sentence for what the user or the machine can mend; None for what is our own fault."""
    from advisor.cli.common import refusal

    if isinstance(error, OutputError):
        return f"The results could not be printed ({error}). What was written to files is whole; print them to another place."
    if isinstance(error, MemoryError):
        return "There is not enough memory for this. Close other programs, or give a shorter or less finely sampled song."
    if isinstance(error, EOFError):
        return "Nobody answered, so nothing was done. Add --yes where no answer can be given."
    if isinstance(error, OSError) and error.errno is not None:
        return _machine(error)
    if isinstance(error, ImportError | OSError):
        why = " ".join(str(error).split())[:200]
        return f"A library could not be loaded ({why}). Free some memory, or install mixproof anew if that does not help."
    return refusal(error) if isinstance(error, Exception) else None


def _machine(error: OSError) -> str:
    """Return the sentence for what the machine refuses."""
    if error.errno in (errno.EMFILE, errno.ENFILE):
        return "More files had to be open at once than this system allows. Raise the limit (`ulimit -n 1024`), or give fewer stems."
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "The disk is full, so it stops here. Make room, also in the folder for temporary files, and run this again."
    if error.errno == errno.ENOMEM:
        return "There is not enough memory for this. Close other programs, and run this again."
    name = (
        "A file" if error.filename is None else f"“{os.fsdecode(error.filename) if isinstance(error.filename, bytes) else error.filename}”"
    )
    return f"{name} could not be used ({error.strerror or error}), so it stops here. Check the disk, and who may read and write there."


def _fault(error: BaseException) -> int:
    from advisor.store.crashes import keep_details

    what = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
    try:
        kept = f"The details are in {keep_details(error)}"
    except OSError as refused:
        kept = f"The details could not be kept ({refused.strerror or refused})"
    say(f"This is a fault of mixproof, not of your song ({' '.join(what.split())[:300]}). {kept}; what was there before is unchanged.")
    return FAULT
