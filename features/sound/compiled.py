"""The one place that compiles loops to machine code.

By numba, cached on disk where that is possible.
"""

from collections.abc import Callable
from typing import ParamSpec, TypeVar

from numba import njit

Arguments = ParamSpec("Arguments")
Result = TypeVar("Result")


def kernel(function: Callable[Arguments, Result]) -> Callable[Arguments, Result]:
    """Compile ``function`` at its first call.

    Keep the result on disk when there is a writable place for it.
    """
    try:
        compiled: Callable[Arguments, Result] = njit(cache=True, nogil=True)(function)
    except RuntimeError:  # numba found no folder that it may write to
        compiled = njit(nogil=True)(function)
    return compiled
