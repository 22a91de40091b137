"""What holds for every test."""

import pytest


@pytest.fixture(autouse=True)
def home_of_its_own(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Keep every test out of the user's own data."""
    monkeypatch.setenv("MIXPROOF_HOME", str(tmp_path_factory.getbasetemp() / "mixproof-home"))
