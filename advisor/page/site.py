"""What all pages share."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from advisor.app.history_words import shown
from advisor.page.queue import Queue
from advisor.page.runs import Run, Runs
from advisor.page.uploads import Caps
from advisor.page.watched import FolderWatch
from features.sound.clock import clock
from features.sound.opening.formats import SOUND_ENDINGS

TEMPLATES = Path(__file__).parent / "templates"


@dataclass(frozen=True, slots=True)
class Site:
    """What this start of the server works with."""

    runs: Runs
    queue: Queue
    token: str
    now: Callable[[], datetime]
    caps: Caps
    watch: FolderWatch | None = None


def site_of(request: Request) -> Site:
    """Return what the server works with."""
    site: Site = request.app.state.site
    return site


def run_of(request: Request) -> Run:
    """Return the run that an address names, or answer 404."""
    run = site_of(request).runs.get(request.path_params["run"])
    if run is None:
        raise HTTPException(404, "There is no such critique here; it may have been deleted.")
    return run


@cache
def _environment() -> Environment:
    environment = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    environment.filters["shown"] = shown
    environment.filters["clock"] = clock
    environment.filters["when"] = _when
    environment.globals["accept"] = ",".join(sorted(SOUND_ENDINGS))
    return environment


def _when(made: str) -> str:
    """Return a moment as day and time, where the user is."""
    return datetime.fromisoformat(made).astimezone().strftime("%Y-%m-%d %H:%M")


def filled_page(request: Request, template: str, status: int = 200, **values: object) -> Response:
    """Return a page filled from its template."""
    text = _environment().get_template(template).render(token=site_of(request).token, here=request.url.path, **values)
    return HTMLResponse(text, status)


def refusal(request: Request, status: int, words: str) -> Response:
    """Return a refusal for a script or a reader."""
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"refused": words}, status)
    return filled_page(request, "refusal.html", status, title="This cannot be done", words=words)


def folder_shown(path: Path) -> str:
    """Return a folder as its owner writes it."""
    return shown(os.fspath(path))
