"""Keeps compiled kernels on disk, checked before use.

One file for each kernel and signature, with a checksum. What does not match is compiled anew.

numba's own files share an index and numbered names, so two runs at once can leave the code of one signature under the name of another,
and a damaged file ends every run.
"""

import hashlib
import os
import pickle
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import numba
from numba.core.serialize import dumps

from features.sound.kernel_start import QuickCache

ENDING = ".kernel"
CHECKSUM_BYTES = 32


def _digest(*parts: object) -> str:
    return hashlib.sha256(repr(parts).encode("utf-8", "replace")).hexdigest()[:20]


class KernelFiles:
    """The files of one kernel.

    They take the place of numba's index.
    """

    def __init__(self, folder: str, base: str, stamp: object) -> None:
        """Take the folder, the name and the source's stamp."""
        self._folder, self._base = folder, base
        self._made_from = _digest(numba.__version__, stamp)

    def there(self) -> bool:
        """Whether anything is compiled from the present source."""
        return any(self._made_from in name for name in self._names())

    def load(self, key: Any) -> Any:  # noqa: ANN401 - as numba has it
        """Return what was compiled for a signature.

        None where it has to be compiled; a damaged file is gone then.
        """
        path = self._path(key)
        try:
            with open(path, "rb") as file:  # noqa: PTH123 - features know no paths
                whole = file.read()
        except OSError:
            return None
        content = whole[CHECKSUM_BYTES:]
        try:
            if hashlib.sha256(content).digest() == whole[:CHECKSUM_BYTES]:
                return pickle.loads(content)  # noqa: S301 - our own, in the user's own folder
        except Exception:  # noqa: BLE001, S110 - whatever it was, it is of no use
            pass
        self._remove(path)
        return None

    def save(self, key: Any, data: Any) -> None:  # noqa: ANN401 - as numba has it
        """Keep what was compiled.

        A full disk only means that it is compiled again next time.
        """
        content: bytes = dumps(data)  # type: ignore[no-untyped-call]
        path = self._path(key)
        part = f"{path}.{os.getpid()}"
        try:
            with open(part, "wb") as file:  # noqa: PTH123
                file.write(hashlib.sha256(content).digest() + content)
            os.replace(part, path)  # noqa: PTH105
        except OSError:
            self._remove(part)
        for name in self._names():
            if self._made_from not in name:  # of an earlier source
                self._remove(os.path.join(self._folder, name))  # noqa: PTH118

    def flush(self) -> None:
        """Forget everything compiled of this kernel."""
        for name in self._names():
            self._remove(os.path.join(self._folder, name))  # noqa: PTH118

    def _path(self, key: Any) -> str:  # noqa: ANN401
        signature, *rest = key
        return os.path.join(self._folder, f"{self._base}.{self._made_from}.{_digest(str(signature), *rest)}{ENDING}")  # noqa: PTH118

    def _names(self) -> list[str]:
        try:
            return [name for name in os.listdir(self._folder) if name.startswith(f"{self._base}.") and name.endswith(ENDING)]  # noqa: PTH208
        except OSError:
            return []

    @staticmethod
    def _remove(path: str) -> None:
        with suppress(OSError):
            os.unlink(path)  # noqa: PTH108


class KernelCache(QuickCache):
    """Numba's cache of one function, with our own files.

    It never keeps a kernel from running.
    """

    def __init__(self, function: Callable[..., Any]) -> None:
        """Find the place for the files.

        Raises RuntimeError where there is none that may be written to.
        """
        super().__init__(function)  # type: ignore[no-untyped-call]
        self._cache_file: Any = KernelFiles(self._cache_path, self._impl.filename_base, self._impl.locator.get_source_stamp())

    def load_overload(self, sig: Any, target_context: Any) -> Any:  # noqa: ANN401
        """Return the compiled code of a signature.

        None where it has to be compiled.
        """
        try:
            return super().load_overload(sig, target_context)
        except Exception:  # noqa: BLE001 - a cache that cannot be used costs time, not the critique
            return None

    def save_overload(self, sig: Any, data: Any) -> None:  # noqa: ANN401
        """Keep compiled code where there is room."""
        with suppress(OSError):
            super().save_overload(sig, data)  # type: ignore[no-untyped-call]
