"""A command is one module: found by its file, and in need of a test."""

import pkgutil
from pathlib import Path

import pytest

from advisor import cli
from advisor.app.version import tool_version
from advisor.cli.main import NOT_COMMANDS, main

ROOT = Path(__file__).parents[3]
COMMANDS = sorted(info.name for info in pkgutil.iter_modules(cli.__path__) if info.name not in NOT_COMMANDS)


def test_a_module_put_into_the_folder_is_a_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "greet.py").write_text(
        'def command(name: str) -> int:\n    """Greet somebody."""\n    print(f"Hello {name}")\n    return 0\n', encoding="utf-8"
    )
    monkeypatch.setattr(cli, "__path__", [*cli.__path__, str(tmp_path)])
    assert main(["greet", "Ada"]) == 0
    assert capsys.readouterr().out == "Hello Ada\n"
    assert main(["--help"]) == 0
    assert "Greet somebody." in capsys.readouterr().out


def test_every_command_is_listed_by_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    text = capsys.readouterr().out
    assert [name for name in COMMANDS if f" {name} " not in text] == []


def test_help_cuts_nothing_off(capsys: pytest.CaptureFixture[str]) -> None:
    for command in ([], ["references"]):
        assert main([*command, "--help"]) == 0
        assert "..." not in capsys.readouterr().out.replace("[ARGS]...", "")


def test_the_version_is_shown(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"mixproof {tool_version()}\n"


def test_every_command_is_called_by_a_test_and_documented() -> None:
    tests = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("test_*.py"))
    page = (ROOT / "docs" / "cli.md").read_text(encoding="utf-8")
    assert [name for name in COMMANDS if f'"{name}"' not in tests] == []
    assert [name for name in COMMANDS if f"mixproof {name}" not in page] == []
