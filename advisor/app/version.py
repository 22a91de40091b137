"""The program's own version."""

from importlib.metadata import PackageNotFoundError, version


def tool_version() -> str:
    """Return the installed version."""
    try:
        return version("mixproof")
    except PackageNotFoundError:
        return "0 (not installed)"
