"""Fourier transforms of scipy, loaded alone.

Importing `scipy.fft` costs as much as the loudness of half a song, and nearly all of it serves other kinds of arrays. The transforms
themselves lie in one compiled file, which is loaded alone. Where it cannot be, `scipy.fft` is used.
"""

from functools import cache
from importlib.machinery import EXTENSION_SUFFIXES, ExtensionFileLoader, FileFinder
from importlib.util import find_spec, module_from_spec
from typing import Any

import numpy as np
from numpy.typing import NDArray

INVERSE = 2  # scipy's number for the division by the length


def _compiled() -> Any:  # noqa: ANN401 - it has no types
    """Return scipy's compiled transforms.

    None where they lie elsewhere than expected.
    """
    scipy = find_spec("scipy")
    for folder in (scipy.submodule_search_locations or ()) if scipy is not None else ():
        finder = FileFinder(f"{folder}/fft/_pocketfft", (ExtensionFileLoader, EXTENSION_SUFFIXES))
        spec = finder.find_spec("pypocketfft")
        if spec is None or spec.loader is None:
            continue
        try:
            library = module_from_spec(spec)
            spec.loader.exec_module(library)
        except ImportError:
            continue
        if all(hasattr(library, name) for name in ("r2c", "c2r", "c2c", "good_size")):
            return library
    return None


COMPILED = _compiled()


@cache
def next_fast_len(least: int, real: bool = False) -> int:
    """Return the next length that transforms quickly.

    Examples
    --------
    >>> next_fast_len(1009, real=True)
    1024
    """
    if COMPILED is None:
        from scipy import fft  # noqa: PLC0415 - heavy

        return int(fft.next_fast_len(least, real=real))
    return int(COMPILED.good_size(least, real))


def rfft(values: Any, size: int | None = None, axis: int = -1) -> NDArray[Any]:  # noqa: ANN401 - whatever numpy takes
    """Return the spectrum of real values, as `scipy.fft.rfft`.

    In single precision where they are; cut or filled with zeros to ``size``.
    """
    if COMPILED is None:
        from scipy import fft  # noqa: PLC0415 - heavy

        return np.asarray(fft.rfft(values, size, axis))
    return np.asarray(COMPILED.r2c(_fitted(_floats(values), size, axis), (axis,), True, 0, None, 1))  # noqa: FBT003 - positional only


def irfft(spectrum: Any, size: int | None = None, axis: int = -1) -> NDArray[Any]:  # noqa: ANN401 - whatever numpy takes
    """Return the real values of a spectrum, as `scipy.fft.irfft`."""
    if COMPILED is None:
        from scipy import fft  # noqa: PLC0415 - heavy

        return np.asarray(fft.irfft(spectrum, size, axis))
    bins = _complex(spectrum)
    size = 2 * (bins.shape[axis] - 1) if size is None else size
    return np.asarray(COMPILED.c2r(_fitted(bins, size // 2 + 1, axis), (axis,), size, False, INVERSE, None, 1))  # noqa: FBT003


def ifft(spectrum: Any, axis: int = -1) -> NDArray[Any]:  # noqa: ANN401 - whatever numpy takes
    """Return the complex values of a spectrum, as `scipy.fft.ifft`."""
    if COMPILED is None:
        from scipy import fft  # noqa: PLC0415 - heavy

        return np.asarray(fft.ifft(spectrum, axis=axis))
    return np.asarray(COMPILED.c2c(_complex(spectrum), (axis,), False, INVERSE, None, 1))  # noqa: FBT003


def _floats(values: Any) -> NDArray[Any]:  # noqa: ANN401 - whatever numpy takes
    array = np.asarray(values)
    return array if array.dtype in (np.float32, np.float64) else array.astype(np.float64)


def _complex(values: Any) -> NDArray[Any]:  # noqa: ANN401 - whatever numpy takes
    array = np.asarray(values)
    return array if array.dtype in (np.complex64, np.complex128) else array.astype(np.result_type(array.dtype, np.complex64))


def _fitted(array: NDArray[Any], size: int | None, axis: int) -> NDArray[Any]:
    """Cut one axis to ``size``, or fill it with zeros."""
    if size is None or array.shape[axis] == size:
        return array
    shape = list(array.shape)
    kept = min(shape[axis], size)
    part = [slice(None)] * array.ndim
    part[axis] = slice(kept)
    if kept == size:
        return array[tuple(part)]
    shape[axis] = size
    fitted = np.zeros(shape, array.dtype)
    fitted[tuple(part)] = array[tuple(part)]
    return fitted
