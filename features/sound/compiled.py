"""The one place that compiles loops to machine code.

By numba, cached on disk where that is possible.
"""

from collections.abc import Callable
from contextlib import suppress
from typing import Any, ParamSpec, TypeVar

from numba import njit

from features.sound.kernel_cache import KernelCache

Arguments = ParamSpec("Arguments")
Result = TypeVar("Result")


def kernel(function: Callable[Arguments, Result]) -> Callable[Arguments, Result]:
    """Compile ``function`` at its first call.

    Keep the result on disk when there is a writable place for it.
    """
    compiled: Any = njit(nogil=True)(function)
    with suppress(RuntimeError):  # numba found no folder that it may write to
        compiled._cache = KernelCache(function)  # noqa: SLF001 - what its `cache=True` does, with files of ours
    kept: Callable[Arguments, Result] = compiled
    return kept
