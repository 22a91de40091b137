"""The entry point of the command line.

It sets up the process, finds the commands, and turns errors into one sentence.
"""

import importlib
import inspect
import os
import pkgutil
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from advisor.app.errors import RequestError

if TYPE_CHECKING:
    from typer import Typer

IN_THE_WAY = 1
CANNOT = 2
INTERRUPTED = 130
NOT_COMMANDS = ("main", "common", "display", "several", "welcome")


def guard_packages() -> None:
    """Refuse to run with another distribution's packages.

    Its `rules` or `features` would be used instead of ours.
    """
    import advisor
    import demo
    import features
    import rules

    home = Path(str(advisor.__file__)).parents[1]
    for package in (rules, features, demo):
        file = getattr(package, "__file__", None)
        if file is None or Path(file).parents[1] != home:
            raise RequestError(
                f"Another package called '{package.__name__}' is installed in this Python environment, and mixproof would mix it up with "
                "its own. Install mixproof into an environment of its own (a fresh virtual environment, or pipx)."
            )


def kernel_folder(environment: Mapping[str, str]) -> Path | None:
    """Return a writable folder for compiled kernels, or None."""
    from platformdirs import user_cache_path

    if environment.get("NUMBA_CACHE_DIR"):
        return Path(environment["NUMBA_CACHE_DIR"])
    folder = user_cache_path("mixproof") / "kernels"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return folder if os.access(folder, os.W_OK) else None


def prepare_process() -> None:
    """Set what numpy and numba read at their import.

    One BLAS thread (we use our own), a writable kernel folder.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    folder = kernel_folder(os.environ)
    if folder is not None:
        os.environ["NUMBA_CACHE_DIR"] = str(folder)


def first_run() -> bool:
    """Whether the measuring code was never compiled on this machine."""
    folder = os.environ.get("NUMBA_CACHE_DIR")
    return folder is None or not any(Path(folder).rglob("*.nbi"))


def _application() -> object:
    import typer

    from advisor import cli

    application = typer.Typer(
        name="mixproof",
        help="A written critique of your mix before mastering, measured on your own song.",
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
    )
    shown = typer.Option("--version", help="Show the version and exit.", is_eager=True, callback=_show_version)

    @application.callback()
    def _options(*, version: Annotated[bool, shown] = False) -> None: ...

    for info in pkgutil.iter_modules(cli.__path__):
        if info.name not in NOT_COMMANDS:
            module = importlib.import_module(f"advisor.cli.{info.name}")
            several = getattr(module, "commands", None)
            if several is None:
                application.command(name=info.name, short_help=_whole_help(module.command))(module.command)
            else:
                application.add_typer(_family(several, str(module.HELP)), name=info.name, short_help=str(module.HELP))
    return application


def _show_version(wanted: bool) -> None:
    if wanted:
        import typer

        from advisor.app.version import tool_version
        from advisor.cli.common import show

        show(f"mixproof {tool_version()}")
        raise typer.Exit


def _whole_help(command: Callable[..., int]) -> str:
    """Return a docstring's first paragraph on one line.

    The list of commands would cut it off.
    """
    return " ".join((inspect.getdoc(command) or "").partition("\n\n")[0].split())


def _family(several: Mapping[str, Callable[..., int]], words: str) -> "Typer":
    """Return a command that has commands of its own."""
    import typer

    family = typer.Typer(help=words, no_args_is_help=True, rich_markup_mode=None, pretty_exceptions_enable=False)
    for name, command in several.items():
        family.command(name=name, short_help=_whole_help(command))(command)
    return family


def run() -> None:
    """Run the command line.

    Exit 0 done, 1 done and something found (--fail-on), 2 the request cannot be done.
    """
    sys.exit(main(sys.argv[1:]))


def main(arguments: list[str]) -> int:
    """Run one command and return its exit status."""
    import typer

    prepare_process()
    try:
        guard_packages()
        return _run_command(arguments)
    except typer.Exit as stop:
        return stop.exit_code
    except KeyboardInterrupt:
        return _say("Stopped. Nothing was written; what was there is unchanged.", INTERRUPTED)
    except Exception as error:  # noqa: BLE001 - one place decides what is a refusal; the rest is raised again
        return _refuse(error)


def _run_command(arguments: list[str]) -> int:
    import typer

    from advisor.cli.common import clear_progress
    from advisor.cli.welcome import welcome

    arguments = arguments or welcome()
    if not arguments:
        return 0
    command = typer.main.get_command(_application())  # type: ignore[arg-type]
    try:
        result = command.main(arguments, prog_name="mixproof", standalone_mode=False)
    finally:
        clear_progress()
    return result if isinstance(result, int) else 0


def _refuse(error: Exception) -> int:
    """Put a refused request into one sentence.

    Anything unforeseen stays a crash with its traceback.
    """
    from advisor.cli.common import refusal

    text = refusal(error)
    if text is None:
        raise error
    return _say(text, CANNOT)


def _say(text: str, status: int) -> int:
    sys.stderr.write(f"{text}\n")
    return status
