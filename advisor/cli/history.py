"""`mixproof history`: what was advised, and what came of it."""

import sys
from datetime import UTC, datetime
from shlex import quote
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from advisor.cli.common import show, show_table

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator

    from advisor.history.store import Bounce
    from advisor.report_model.report import Report
    from advisor.store.database import Database


def command(  # noqa: PLR0913, PLR0917 - one parameter for each option
    project: Annotated[str | None, typer.Argument(help="A project's name; without it, all projects are listed.")] = None,
    bounce: Annotated[int | None, typer.Option(help="Show one bounce of the project in full.")] = None,
    export: Annotated[Literal["md", "json"] | None, typer.Option(help="Print the whole project as Markdown or JSON.")] = None,
    set_aside: Annotated[
        str | None, typer.Option(help="A rule whose finding in the latest bounce is meant to be so; needs --because.")
    ] = None,
    stem: Annotated[str | None, typer.Option(help="With --set-aside or --take-back: only the finding about this element.")] = None,
    because: Annotated[str | None, typer.Option(help="Why it is set aside.")] = None,
    take_back: Annotated[str | None, typer.Option(help="A rule whose findings are judged again.")] = None,
    delete: Annotated[bool, typer.Option("--delete", help="Delete the project; it can be brought back for 30 days.")] = False,
    restore: Annotated[bool, typer.Option("--restore", help="Bring back the project deleted last under this name.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="With --delete: do not ask.")] = False,
) -> int:
    """Show what was advised for each bounce of a project.

    It shows what was done about it, and what that brought.
    """
    from advisor.app.errors import RequestError
    from advisor.store.database import FILE_NAME, open_database
    from advisor.store.home import home

    asked = [bounce is not None, export is not None, set_aside is not None, take_back is not None, delete, restore]
    if sum(asked) > 1:
        raise RequestError("Only one of --bounce, --export, --set-aside, --take-back, --delete and --restore can be done at a time.")
    if project is None and any(asked):
        raise RequestError("Which project? Give its name: mixproof history 'NAME' ... The command `mixproof history` lists them.")
    if because is not None and set_aside is None:
        raise RequestError("--because gives the reason for --set-aside RULE, and that is missing.")
    if not (home() / FILE_NAME).exists():  # looking makes no file
        return _nothing_yet(project)
    with open_database() as opened:
        if opened.set_aside is not None:
            show(f"The file that keeps the history was damaged. It was moved to {opened.set_aside}, unchanged; this is a new one.")
        if project is None:
            return _list(opened)
        if set_aside is not None:
            return _set_aside(opened, project, set_aside, stem, because)
        if take_back is not None:
            return _take_back(opened, project, take_back, stem)
        if delete:
            return _delete(opened, project, asking=not yes)
        return _restore(opened, project) if restore else _show_project(opened, project, bounce, export)


def _nothing_yet(project: str | None) -> int:
    from advisor.app.errors import RequestError
    from advisor.app.history_words import shown
    from advisor.history.listing import projects_text

    (words,) = projects_text([])
    if project is not None:
        raise RequestError(f"There is no project called '{shown(project, 60)}'. {words}.")
    show(f"{words}.")
    return 0


def _list(opened: "Database") -> int:
    from advisor.app.history_words import day, shown
    from advisor.history import listing, store

    with opened.reading() as read:
        projects = store.projects(read)
    rows = [
        (shown(project.name, listing.NAME_WIDTH), str(project.bounces), "" if project.last is None else day(project.last))
        for project in projects
    ]
    show_table(("Project", "Bounces", "Last"), rows, listing.projects_text(projects), listing.MORE)
    return 0


def _show_project(opened: "Database", project: str, bounce: int | None, export: str | None) -> int:
    from advisor.app.errors import RequestError
    from advisor.app.history_words import shown
    from advisor.history import listing, store

    name = store.proper_name(project)
    with opened.reading() as read:
        project_id = store.find(read, name)
        bounces, states, set_asides = store.bounces(read, project_id), store.states(read, project_id), store.set_asides(read, project_id)
        if bounce is not None:
            chosen = next((past for past in bounces if past.number == bounce), None)
            if chosen is None:
                raise RequestError(f"'{shown(name, 40)}' has no bounce {bounce}; its bounces are 1 to {len(bounces)}.")
            lines = list(listing.bounce_text(name, chosen, store.report_of(read, chosen)))
        elif export is not None:
            lines = list(_exported(read, name, bounces, export))
        else:
            target_lufs = store.settings_of(bounces[-1]).target_lufs if bounces else None
            lines = list(listing.project_text(name, bounces, states, set_asides, target_lufs or 0.0))
    for line in lines:
        show(line)
    return 0


def _exported(read: "sqlite3.Connection", name: str, bounces: "list[Bounce]", export: str) -> "Iterator[str]":
    from advisor.history import listing, store
    from advisor.history.stored import UnreadableError

    project = store.find(read, name)
    set_asides = store.set_asides(read, project)
    if export == "json":
        yield listing.export_json(name, bounces, [store.stored_json(read, bounce) for bounce in bounces], set_asides)
        return

    def readable(bounce: "Bounce") -> "Report | str":
        try:
            return store.report_of(read, bounce)
        except UnreadableError as error:
            return str(error)

    yield from listing.export_markdown(name, bounces, [readable(bounce) for bounce in bounces], store.states(read, project), set_asides)


def _set_aside(opened: "Database", project: str, rule: str, stem: str | None, because: str | None) -> int:
    from advisor.app.settings import find_rule
    from advisor.history import decisions, store

    chosen = find_rule(rule)
    with opened.writing() as write:
        made = decisions.set_aside(write, store.find(write, project), chosen.id, stem, because or "", datetime.now(UTC))
    for decision in made:
        show(f"Set aside: {decision.title}, because “{decision.because}”.")
    show("From the next critique on it is out of plan and verdict, stays in one line of the report, and comes back when it clearly grows.")
    return 0


def _take_back(opened: "Database", project: str, rule: str, stem: str | None) -> int:
    from advisor.app.settings import find_rule
    from advisor.history import decisions, store

    chosen = find_rule(rule)
    with opened.writing() as write:
        decisions.take_back(write, store.find(write, project), chosen.id, stem)
    show(f"{chosen.title}: judged again from the next critique on.")
    return 0


def _delete(opened: "Database", project: str, *, asking: bool) -> int:
    from advisor.app.errors import RequestError
    from advisor.app.history_words import counted, shown
    from advisor.history import store

    with opened.reading() as read:
        project_id = store.find(read, project)
        count = counted(len(store.bounces(read, project_id)), "bounce", "bounces")
    name = shown(store.proper_name(project), 60)
    if asking:
        if not sys.stdin.isatty():
            raise RequestError(f"Deleting '{name}' asks first, and nobody is there to answer. Add --yes to delete it from a script.")
        if not typer.confirm(f"Delete '{name}' with {count}?"):
            show("Nothing was deleted.")
            return 0
    with opened.writing() as write:
        store.delete(write, store.find(write, project), datetime.now(UTC))
    again = f"mixproof history {quote(name)} --restore"
    show(f"'{name}' with {count} is deleted. For {store.KEPT_DAYS} days it can be brought back: {again}")
    show("After that, the next critique with --project removes it for good. Reports and songs on your disk are not touched.")
    return 0


def _restore(opened: "Database", project: str) -> int:
    from advisor.app.history_words import counted, shown
    from advisor.history import store

    with opened.writing() as write:
        count = store.restore(write, project)
    show(f"'{shown(store.proper_name(project), 60)}' is back, with {counted(count, 'bounce', 'bounces')}.")
    return 0
