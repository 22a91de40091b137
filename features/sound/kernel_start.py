"""Loads compiled kernels without waking the compiler.

numba gathers everything it could compile (and imports `scipy.linalg` for it) before it looks whether a kernel lies compiled on disk.
That takes as long as a third of an ffmpeg pass over the song, and only compiling needs it.
"""

from typing import Any

from numba.core.caching import FunctionCache
from numba.core.runtime.nrt import rtsys


class QuickCache(FunctionCache):
    """Numba's cache of one function, asked first."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:  # noqa: ANN401 - as numba has it
        """Return the compiled code of a signature.

        What cannot be loaded this way is left to numba's own.
        """
        try:
            rtsys.initialize(target_context)  # what kernels get their memory from
            compiled = self._load_overload(sig, target_context)  # type: ignore[no-untyped-call]
        except Exception:  # noqa: BLE001 - another numba; its own way follows
            compiled = None
        return super().load_overload(sig, target_context) if compiled is None else compiled  # type: ignore[no-untyped-call]
