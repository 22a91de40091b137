"""A kernel that lies compiled is loaded without the compiler, and one that does not is compiled."""

import os
import subprocess
import sys
from pathlib import Path

PROGRAM = """
import sys
import numpy as np
from features.sound import kernel_start
from features.sound.k_weighting import STATE_SIZE, energies, k_weighting
if "other numba" in sys.argv:
    kernel_start.rtsys = None
wave = np.sin(np.arange(1000)).astype(np.float32)
means = energies(wave, wave, np.arange(0, 1001, 100), k_weighting(48000), np.zeros(STATE_SIZE))
print(means.sum().hex(), "scipy.linalg" in sys.modules)
"""


def _run(folder: Path, *arguments: str) -> list[str]:
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(folder)}
    done = subprocess.run([sys.executable, "-c", PROGRAM, *arguments], check=True, capture_output=True, text=True, env=environment)
    return done.stdout.split()


def test_the_second_start_loads_without_the_compiler(tmp_path: Path) -> None:
    compiled, loaded = _run(tmp_path), _run(tmp_path)
    assert compiled[1] == "True"
    assert loaded == [compiled[0], "False"]
    assert _run(tmp_path, "other numba") == compiled
