"""The entry point of the command line.

It sets up the process, finds the commands, and turns errors into one sentence.
"""

import gc
import importlib
import inspect
import os
import pkgutil
import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from advisor.app.errors import RequestError
from advisor.app.stopping import insist, listen
from advisor.app.streams import OutputError, finish, own_streams
from advisor.cli.ending import ending, passed_on

if TYPE_CHECKING:
    from typer import Typer

NOT_COMMANDS = ("main", "common", "display", "ending", "several")
OBJECTS_BETWEEN_COLLECTIONS = 100_000  # imports make many objects and no garbage; looking through them took a twentieth of a second
OPEN_FILES = 1024  # stems are read side by side
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


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

    One thread for linear algebra, since how sums are split changes their last digits; a writable kernel folder;
    and few searches for garbage.
    """
    gc.set_threshold(OBJECTS_BETWEEN_COLLECTIONS)
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    _allow_open_files()
    folder = kernel_folder(os.environ)
    if folder is not None:
        os.environ["NUMBA_CACHE_DIR"] = str(folder)


def _allow_open_files() -> None:
    """Raise the number of files that may be open, as far as the system lets us."""
    with suppress(ImportError, OSError, ValueError):
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = OPEN_FILES if hard == resource.RLIM_INFINITY else min(OPEN_FILES, hard)
        if soft != resource.RLIM_INFINITY and soft < wanted:
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def first_run() -> bool:
    """Whether the measuring code was never compiled on this machine."""
    folder = os.environ.get("NUMBA_CACHE_DIR")
    return folder is None or not any(Path(folder).rglob("*.kernel"))


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
                command = passed_on(module.command)
                application.command(name=info.name, short_help=_whole_help(module.command))(command)
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
        family.command(name=name, short_help=_whole_help(command))(passed_on(command))
    return family


def run() -> None:
    """Run the command line as a process.

    Exit 0 done, 1 done and something found (--fail-on), 2 the request cannot be done, 3 a fault of our own.
    """
    printable = own_streams()
    listen()
    try:
        status = main(sys.argv[1:]) if printable else ending(OutputError("standard output is closed"))
        finish()
    except BaseException as error:  # noqa: BLE001 - the last place before the interpreter prints a traceback
        status = ending(error)
    sys.exit(status)


def main(arguments: list[str]) -> int:
    """Run one command and return its exit status."""
    prepare_process()
    try:
        guard_packages()
        return _run_command(arguments)
    except (Exception, KeyboardInterrupt) as error:  # noqa: BLE001 - one place decides what is a refusal and what a fault
        return ending(error)


def _run_command(arguments: list[str]) -> int:
    import typer

    from advisor.cli.common import clear_progress
    from advisor.cli.serve import welcome

    arguments = arguments or welcome()
    if not arguments:
        return 0
    command = typer.main.get_command(_application())  # type: ignore[arg-type]
    try:
        result = command.main(arguments, prog_name="mixproof", standalone_mode=False)
    except typer.Exit as stop:
        return stop.exit_code
    except typer.Abort as abort:
        raise EOFError from abort
    finally:
        clear_progress()
    insist()
    return result if isinstance(result, int) else 0
