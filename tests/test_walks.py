"""A walk over many things: names every one that fails, and never passes on none."""

import pytest

from tests.walks import for_every


def test_every_thing_that_fails_is_named_whatever_it_raises() -> None:
    @for_every([0, 1, 2, 3], name=lambda number: f"number {number}")
    def walk(number: int) -> None:
        assert 6 / number > 2, "too large"

    with pytest.raises(pytest.fail.Exception) as failed:
        walk()
    first, *named = str(failed.value).splitlines()
    assert first == "2 of 4 fail"
    assert [line for line in named if line.startswith("number")] == [
        "number 0: ZeroDivisionError: division by zero",
        "number 3: AssertionError: too large",
    ]


def test_a_walk_over_nothing_fails() -> None:
    @for_every([])
    def walk(_: str) -> None:
        return

    with pytest.raises(AssertionError, match="nothing to check"):
        walk()
