"""Giving memory back harms nothing, on any C library."""

import ctypes

import pytest

from advisor.app.memory import give_back


def test_it_does_nothing_where_the_library_is_another(monkeypatch: pytest.MonkeyPatch) -> None:
    give_back()

    def none(_name: object) -> object:
        raise OSError("no such library")

    monkeypatch.setattr(ctypes, "CDLL", none)
    give_back()
