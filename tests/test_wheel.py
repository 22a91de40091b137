"""The wheel holds everything that runs: built without a network, unpacked, and used with the checkout out of reach."""

import importlib.util
import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
import soundfile

import advisor
from tests import signals

ROOT = Path(str(advisor.__file__)).parents[1]
PACKAGES = ("advisor", "rules", "features", "demo")
AWAY = """
import sys
from importlib.metadata import distribution
from pathlib import Path
site, root = Path(sys.argv.pop(1)), Path(sys.argv.pop(1))
sys.path[:] = [str(site), *(one for one in sys.path if one and Path(one).resolve() != root)]
try:
    {work}
finally:
    files = {{name: Path(module.__file__) for name, module in sys.modules.items() if getattr(module, "__file__", None)}}
    ours = {{name: file for name, file in files.items() if name.split(".")[0] in ("advisor", "rules", "features", "demo")}}
    assert ours and all(file.is_relative_to(site) for file in ours.values()), ours
"""
COMMAND = 'next(one for one in distribution("mixproof").entry_points if one.name == "mixproof").load()()'
EVERYTHING = """import importlib, pkgutil
    for top in ("advisor", "rules", "features", "demo"):
        for found in pkgutil.walk_packages([str(site / top)], top + "."):
            if not found.name.endswith("__main__"):
                importlib.import_module(found.name)
                print(found.name)"""

pytestmark = pytest.mark.skipif(importlib.util.find_spec("hatchling") is None, reason="hatchling, which builds the wheel, is not installed")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True, timeout=60)
    return next(folder.glob("mixproof-*.whl"))


@pytest.fixture(scope="module")
def site(wheel: Path) -> Path:
    """Return the folder of the unpacked wheel, which is all that installing it would put there."""
    folder = wheel.parent / "site"
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(folder)
    return folder


def run(site: Path, work: str, *words: str) -> str:
    """Do something with the wheel, in a folder of its own; kernels stay uncompiled, which for a second of sound is quicker."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    environment |= {"NUMBA_DISABLE_JIT": "1", "HOME": str(site.parent), "XDG_CACHE_HOME": str(site.parent / "cache")}
    command = [sys.executable, "-c", AWAY.format(work=work), str(site), str(ROOT), *words]
    done = subprocess.run(command, cwd=site.parent, env=environment, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
    return done.stdout


def mixproof(site: Path, *words: str) -> str:
    return run(site, COMMAND, *words)


def test_wheel_holds_the_packages_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert {name.split("/")[0].split("-")[0] for name in names} == {"advisor", "rules", "features", "demo", "mixproof"}
    assert not [name for name in names if "__pycache__" in name or name.endswith((".wav", ".flac"))]


def test_every_tracked_file_of_the_packages_is_in_the_wheel(wheel: Path) -> None:
    listed = subprocess.run(["git", "ls-files", *PACKAGES], cwd=ROOT, capture_output=True, text=True, check=False)
    tracked = {name for name in listed.stdout.splitlines() if (ROOT / name).exists()}
    if not tracked:
        pytest.skip("not a git checkout")
    assert "features/tone/target_table.json" in tracked
    assert tracked - set(zipfile.ZipFile(wheel).namelist()) == set()


def test_help_and_rules(site: Path) -> None:
    assert "critique" in mixproof(site, "--help")
    assert "delivery/dc_offset" in mixproof(site, "rules")
    assert "Sources" in mixproof(site, "explain", "delivery/dc_offset")


def test_critique(site: Path, tmp_path: Path) -> None:
    mix = tmp_path / "mix.wav"
    soundfile.write(mix, signals.pink(1.0, 8000).T, 8000, subtype="PCM_16")
    mixproof(site, "critique", str(mix), "--quick", "--no-audition", "--out", str(tmp_path / "report"))
    report = json.loads((tmp_path / "report" / "report.json").read_text(encoding="utf-8"))
    assert report["failed"] == []
    assert report["measurements"]["level"]["integrated_lufs"] is not None
    assert {"report.md", "report.html"} <= {path.name for path in (tmp_path / "report").iterdir()}


def test_every_module_loads(site: Path) -> None:
    loaded = run(site, EVERYTHING).split()
    assert {"demo.song", "advisor.report.html", "rules.delivery.dc_offset", "features.tone.target"} <= set(loaded)
