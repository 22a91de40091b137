"""The pages that are read and change nothing."""

import time
from dataclasses import replace

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from advisor.history import listing, store
from advisor.history.course import chart
from advisor.page.asked import shelves
from advisor.page.progress import FILE_NAME, RunProgress
from advisor.page.reports import files_of, first_page_of
from advisor.page.runs import ENDED, FIRST, REPORT, Run, Runs, read_value
from advisor.page.shown import ShownFinding, ShownReport, shown_report
from advisor.page.site import filled_page, folder_shown, run_of, site_of
from advisor.report_model.codec import from_json
from advisor.store import database
from advisor.store.home import home

MOST_LISTED = 50


def home_page(request: Request) -> Response:
    """Show the form, the watched folder, and all runs."""
    site = site_of(request)
    runs = site.runs.all()[:MOST_LISTED]
    watch = site.watch
    watched = None if watch is None else (folder_shown(watch.wanted.folder), watch.wanted.asked.project or "", watch.there)
    projects = [project.name for project in _projects()]
    return filled_page(request, "home.html", title="mixproof", runs=runs, watched=watched, projects=projects, shelves=shelves())


def compare_page(request: Request) -> Response:
    """Show the form for two bounces."""
    return filled_page(request, "compare.html", title="Compare two bounces")


def master_page(request: Request) -> Response:
    """Show the form for a master."""
    return filled_page(request, "master.html", title="Check a master")


def run_page(request: Request) -> Response:
    """Show how far a run is, and what it found."""
    site, run = site_of(request), run_of(request)
    place = site.runs.place(run)
    progress = read_value(RunProgress, place / FILE_NAME) or RunProgress()
    if run.state == "running":
        progress = replace(progress, now_s=time.time())
    report = shown_report(place / REPORT) if run.state == "done" else None
    first = None if run.state == "done" else shown_report(place / FIRST)
    uploads = [path.name for slot in ("mix", "stems", "earlier", "later", "master") for path in sorted((place / slot).glob("[!.]*"))]
    return filled_page(
        request, "run.html", title=title_of(run), run=run, progress=progress, report=report, first=first, uploads=uploads,
        left_s=progress.left_s(), place=folder_shown(place), before=_before(site.runs, run), ended=run.state in ENDED,
        files=files_of(place / REPORT) if run.state == "done" else {}, first_page=first_page_of(place / REPORT),
        project=None if run.asked.project is None else _project_number(run.asked.project),
    )  # fmt: skip


def title_of(run: Run) -> str:
    """Return what a run is called."""
    return run.name or {"critique": "A mix", "compare": "Two bounces", "master": "A master"}[run.asked.kind]


def _before(runs: Runs, run: Run) -> int:
    """Return how many come before a run."""
    return sum(other.state in ("waiting", "running") and other.made < run.made for other in runs.all()) if run.state == "waiting" else 0


def _projects() -> list[store.Project]:
    if not _anything_kept():
        return []
    with database.open_database() as opened, opened.reading() as read:
        return store.projects(read)


def _anything_kept() -> bool:
    return (home() / database.FILE_NAME).exists()  # looking makes no file


def _project_number(name: str) -> int | None:
    return next((project.id for project in _projects() if project.name == name), None)


def projects_page(request: Request) -> Response:
    """List the projects."""
    return filled_page(request, "projects.html", title="Projects", projects=_projects())


def project_page(request: Request) -> Response:
    """Show a project's course, findings and set-asides."""
    number: int = request.path_params["project"]
    project = next((project for project in _projects() if project.id == number), None)
    if project is None:
        raise HTTPException(404, "There is no such project here; it may have been deleted.")
    with database.open_database() as opened, opened.reading() as read:
        bounces, states, asides = store.bounces(read, number), store.states(read, number), store.set_asides(read, number)
        last = store.stored_json(read, bounces[-1]) if bounces else None
    target_lufs = store.settings_of(bounces[-1]).target_lufs if bounces else None
    course = "\n".join(chart([(bounce.number, bounce.clean_lufs) for bounce in bounces], target_lufs or 0.0))
    aside_rules = {(decision.key.rule, decision.key.stem) for decision in asides}
    findings = [finding for finding in _findings(last) if (finding.rule, finding.stem) not in aside_rules]
    return filled_page(
        request, "project.html", title=project.name, project=project, head=listing.HEAD, rows=listing.rows(bounces, states),
        course=course, asides=asides, findings=findings,
    )  # fmt: skip


def _findings(report: bytes | None) -> tuple[ShownFinding, ...]:
    if report is None:
        return ()
    try:
        return from_json(ShownReport, report).findings
    except ValueError:
        return ()  # written by an older version


def shelves_page(request: Request) -> Response:
    """List the shelves of references."""
    return filled_page(request, "shelves.html", title="Your references", shelves=shelves())
