"""What the commands share: refusals in one sentence, settings folders, progress on a terminal."""

import sys
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.app.progress import Line, Plain, Progress


def refusal(error: Exception) -> str | None:
    """Return the sentence for an error the user can act on; None for what is our own fault."""
    if isinstance(error, RequestError) or type(error).__name__ == "LoadError":
        return str(error)
    words = getattr(error, "format_message", None)
    if words is None:
        return None
    text = str(words()).rstrip(".")
    return f"{text}. Run `mixproof --help` for the commands, or `mixproof COMMAND --help` for one of them."


def settings_folders(mix: Path) -> list[Path]:
    """Return where mixproof.toml is looked for: the user's configuration folder, then the mix's own folder."""
    from platformdirs import user_config_path  # noqa: PLC0415

    return [user_config_path("mixproof"), mix.absolute().parent]


def progress() -> Progress:
    """Return a progress line when somebody watches stderr, otherwise only what stays to be read."""

    def write(text: str) -> None:
        sys.stderr.write(text)
        sys.stderr.flush()

    return Line(write) if sys.stderr.isatty() else Plain(write)


def show(text: str = "") -> None:
    """Print a line of results on stdout; characters the terminal cannot show become question marks."""
    encoding = sys.stdout.encoding or "utf-8"
    sys.stdout.write(text.encode(encoding, "replace").decode(encoding) + "\n")
