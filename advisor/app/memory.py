"""Giving memory back.

What many small arrays leave behind stays with the process unless the C library is asked to return it.
"""

import ctypes


def give_back() -> None:
    """Ask glibc to return freed memory to the system.

    Does nothing where the C library is another.
    """
    try:
        trim = ctypes.CDLL(None).malloc_trim
    except (AttributeError, OSError, TypeError):
        return
    trim(0)
