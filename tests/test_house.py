"""The house itself: lengths of files, sizes of folders, docstrings, package names, and what help imports."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import advisor
from advisor.app.errors import RequestError
from advisor.cli import main as cli_main
from rules.base import all_rules
from tests.walks import for_every

ROOT = Path(str(advisor.__file__)).parents[1]
MOST_LINES = 400
MOST_FILES = 15
MOST_WORDS = 10
VAGUE_NAMES = {"one", "each", "found", "told", "held", "t"}
PACKAGES = ("features", "rules", "advisor", "demo")


def tracked_modules() -> list[Path]:
    return [path for folder in ("features", "rules", "advisor", "tests", "demo", "docs") for path in (ROOT / folder).rglob("*.py")]


@for_every(tracked_modules(), name=lambda path: str(path.relative_to(ROOT)))
def test_no_file_grows_past_what_one_reads_in_a_sitting(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_LINES


def rule_folders() -> set[Path]:
    """Return the folders that hold one rule a file, and those of their tests."""
    folders = {Path(*rule.module.split(".")[:-1]) for rule in all_rules()}
    return {root / folder for folder in folders for root in (ROOT, ROOT / "tests")}


@for_every({path.parent for path in tracked_modules()} - rule_folders(), name=lambda folder: str(folder.relative_to(ROOT)))
def test_no_folder_holds_more_than_one_takes_in_at_a_glance(folder: Path) -> None:
    modules = [path.name for path in folder.glob("*.py") if path.name != "__init__.py"]
    assert len(modules) <= MOST_FILES, f"{len(modules)} modules"


Described = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef


def _public(name: str) -> bool:
    return not name.startswith("_") or name == "__init__"


def described(node: Described, name: str) -> Iterator[tuple[str, str]]:
    """Yield the name and the first docstring line of a module or class and of everything public in it."""
    lines = (ast.get_docstring(node) or "").splitlines()
    if lines:
        yield name, lines[0]
    for child in node.body:
        if isinstance(child, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and _public(child.name):
            yield from described(child, f"{name}.{child.name}")


def first_lines() -> Iterator[tuple[str, str]]:
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            yield from described(ast.parse(path.read_text(encoding="utf-8")), str(path.relative_to(ROOT)))


@for_every(first_lines(), name=lambda line: f"{line[0]}: {line[1]}")
def test_first_line_of_a_docstring_is_short(line: tuple[str, str]) -> None:
    words = len(line[1].split())
    assert words <= MOST_WORDS, f"{words} words"
    assert ";" not in line[1], "it chains with a semicolon"


def bound_names(tree: ast.Module) -> Iterator[str]:
    """Yield what variables, parameters and fields are called."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id
        elif isinstance(node, ast.arg):
            yield node.arg


@for_every(tracked_modules(), name=lambda path: str(path.relative_to(ROOT)))
def test_what_is_bound_is_called_what_it_is(path: Path) -> None:
    vague = VAGUE_NAMES & set(bound_names(ast.parse(path.read_text(encoding="utf-8"))))
    assert not vague, f"{sorted(vague)} say only that there is something"


def test_guard_accepts_our_own_packages() -> None:
    cli_main.guard_packages()


def test_guard_names_a_foreign_package(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    import rules  # noqa: PLC0415

    monkeypatch.setattr(rules, "__file__", str(tmp_path / "rules" / "__init__.py"))
    with pytest.raises(RequestError, match="Another package called 'rules'"):
        cli_main.guard_packages()


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys; from advisor.cli.main import main; main(['--help'])\n"
        "heavy = {'numpy', 'scipy', 'numba', 'librosa', 'soundfile', 'matplotlib', 'sklearn'} & set(sys.modules)\n"
        "sys.exit(f'imported: {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr
