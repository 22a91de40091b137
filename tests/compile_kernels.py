"""Compile every kernel, so that tests that run at once do not each compile them.

python -m tests.compile_kernels

Critiques a short song with stems, which uses them all; does nothing where all of them lie compiled on disk. Ends with status 1 and the
names of kernels that the critique left out.
"""

import importlib
import pkgutil
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from numba.core.dispatcher import Dispatcher

import features
from advisor.app.settings import Settings
from advisor.critique import CritiqueInputs, critique
from features.sound.kernel_cache import KernelCache
from tests.sounds import stem_song


def kernels() -> dict[str, Any]:
    """Return the kernels of all features by name."""
    modules = [
        importlib.import_module(module_info.name)
        for module_info in pkgutil.walk_packages(features.__path__, "features.")
        if not module_info.ispkg
    ]
    return {
        f"{module.__name__}.{name}": value
        for module in modules
        for name, value in vars(module).items()
        if isinstance(value, Dispatcher) and value.py_func.__module__ == module.__name__
    }


def is_on_disk(kernel: Any) -> bool:  # noqa: ANN401
    """Whether the kernel was compiled since its source was last changed."""
    return bool(kernel._cache._cache_file.there())


def use_all() -> None:
    """Critique a song with stems, remedies tried."""
    with tempfile.TemporaryDirectory() as place:
        folder, stems = Path(place), stem_song.stems()
        mix = stem_song.write_one(folder / "mix.wav", stem_song.mixed(stems) * np.float32(0.25))
        inputs = CritiqueInputs(stems=stem_song.write(folder / "stems", stems))
        critique(mix, Settings(audition=False), folder / "report", inputs=inputs)


def main() -> int:
    """Compile what is not on disk yet."""
    every = kernels()
    if not all(isinstance(kernel._cache, KernelCache) for kernel in every.values()):
        return 0  # no place to keep them
    if all(map(is_on_disk, every.values())):
        return 0
    use_all()
    left = [name for name, kernel in every.items() if not is_on_disk(kernel)]
    if left:
        sys.stderr.write(f"This critique does not use, and so does not compile: {', '.join(left)}\n")
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main())
