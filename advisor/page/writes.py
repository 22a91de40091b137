"""What the page can change.

The guard has checked who asks.
"""

from dataclasses import replace
from datetime import UTC, datetime

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from advisor.app.errors import RequestError
from advisor.app.settings import find_rule
from advisor.history import decisions
from advisor.page.asked import asked_of
from advisor.page.guard import fields_of
from advisor.page.runs import ENDED, NEEDED, SLOTS
from advisor.page.site import run_of, site_of
from advisor.page.uploads import place_for, receive, stored_bytes
from advisor.store.database import open_database

SEE_OTHER = 303


def make_run(request: Request) -> Response:
    """Make a run, and answer its number."""
    site = site_of(request)
    run = site.runs.make(asked_of(fields_of(request)), site.now())
    return JSONResponse({"run": run.id}, 201)


async def take_file(request: Request) -> Response:
    """Take one file into a slot of a run."""
    site, run, slot = site_of(request), run_of(request), request.path_params["slot"]
    if run.state != "receiving" or slot not in SLOTS[run.asked.kind]:
        raise HTTPException(409, "This critique takes no such file any more.")
    folder = site.runs.place(run) / slot
    path = place_for(folder, request.query_params.get("name", ""), site.caps, several=slot == "stems")
    taken = sum(stored_bytes(site.runs.place(run) / name) for name in SLOTS[run.asked.kind])
    room = min(site.caps.file_bytes, site.caps.run_bytes - taken)
    length = request.headers.get("content-length", "")
    await receive(request.stream(), int(length) if length.isdecimal() else None, path, room)
    return JSONResponse({"kept": path.name}, 201)


def start_run(request: Request) -> Response:
    """Put a run in line: at first, or once more."""
    site, run = site_of(request), run_of(request)
    place = site.runs.place(run)
    if run.state not in ("receiving", *ENDED):
        return RedirectResponse(f"/runs/{run.id}", SEE_OTHER)
    there = {slot: sorted((place / slot).glob("[!.]*")) for slot in SLOTS[run.asked.kind]}
    missing = [slot for slot in NEEDED[run.asked.kind] if not there[slot]]
    if run.mix is None and (missing or not any(there.values())):
        raise RequestError("There is no sound to work on. Choose the files and send them again.")
    names = [paths[0].name for slot, paths in there.items() if paths and slot != "stems"]
    site.runs.again(replace(run, name=run.name or names[-1] if names else run.name or "Your stems"))
    site.queue.wake()
    return RedirectResponse(f"/runs/{run.id}", SEE_OTHER)


def stop_run(request: Request) -> Response:
    """Stop a run that waits or works."""
    site, run = site_of(request), run_of(request)
    if run.state in ("waiting", "running"):
        site.runs.stop(run)
        site.queue.wake()
    return RedirectResponse(f"/runs/{run.id}", SEE_OTHER)


def delete_run(request: Request) -> Response:
    """Delete a run with its files.

    Its project keeps what it recorded.
    """
    site, run = site_of(request), run_of(request)
    site.runs.delete(run)
    return RedirectResponse("/", SEE_OTHER)


def drop_sounds(request: Request) -> Response:
    """Delete what was uploaded, and keep the report."""
    site, run = site_of(request), run_of(request)
    if run.state not in ENDED:
        raise RequestError("The files are still being worked on. Stop that first, or wait until it is done.")
    site.runs.drop_sounds(run)
    return RedirectResponse(f"/runs/{run.id}", SEE_OTHER)


def set_aside(request: Request) -> Response:
    """Set a finding aside with its reason."""
    number, fields = request.path_params["project"], fields_of(request)
    with open_database() as opened, opened.writing() as write:
        decisions.set_aside(
            write, number, find_rule(fields.get("rule", "")).id, fields.get("stem") or None, fields.get("because", ""), datetime.now(UTC)
        )
    return RedirectResponse(f"/projects/{number}", SEE_OTHER)


def take_back(request: Request) -> Response:
    """Let a finding be judged again."""
    number, fields = request.path_params["project"], fields_of(request)
    with open_database() as opened, opened.writing() as write:
        decisions.take_back(write, number, find_rule(fields.get("rule", "")).id, fields.get("stem") or None)
    return RedirectResponse(f"/projects/{number}", SEE_OTHER)
