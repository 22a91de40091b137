"""The house itself: file lengths, package names, the way imports run."""

import subprocess
import sys
from pathlib import Path

import pytest

import advisor
from advisor.app.errors import RequestError
from advisor.cli import main as cli_main
from tests.walks import for_every

ROOT = Path(str(advisor.__file__)).parents[1]
MOST_LINES = 400


def tracked_modules() -> list[Path]:
    return [path for folder in ("features", "rules", "advisor", "tests", "demo", "docs") for path in (ROOT / folder).rglob("*.py")]


@for_every(tracked_modules(), name=lambda path: str(path.relative_to(ROOT)))
def test_no_file_grows_past_what_one_reads_in_a_sitting(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_LINES


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
