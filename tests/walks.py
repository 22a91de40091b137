"""Walks: one test that checks many things of a kind, and lists every one that fails."""

from collections.abc import Callable, Iterable
from typing import TypeVar

import pytest

Thing = TypeVar("Thing")


def for_every(things: Iterable[Thing], name: Callable[[Thing], str] = str) -> Callable[[Callable[[Thing], None]], Callable[[], None]]:
    """Make one test of a check on each thing, which names all that fail.

    A walk over nothing fails too: it would hold whatever the check says.
    """
    walked = list(things)

    def decorate(check: Callable[[Thing], None]) -> Callable[[], None]:
        def test() -> None:
            assert walked, f"{check.__name__} has nothing to check"
            failures = [f"{name(thing)}: {problem}" for thing in walked if (problem := _problem(check, thing)) is not None]
            if failures:
                pytest.fail("\n".join([f"{len(failures)} of {len(walked)} fail", *failures]), pytrace=False)

        test.__name__, test.__qualname__, test.__doc__, test.__module__ = (
            check.__name__,
            check.__qualname__,
            check.__doc__,
            check.__module__,
        )
        return test

    return decorate


def _problem(check: Callable[[Thing], None], thing: Thing) -> str | None:
    try:
        check(thing)
    except Exception as error:  # noqa: BLE001 - whatever one thing raises, the others are still to be checked
        return f"{type(error).__name__}: {error}"
    return None
