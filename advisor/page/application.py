"""Puts the page together, with the guard around it."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from advisor.app.errors import RequestError
from advisor.page import pages, reports, writes
from advisor.page.guard import Guard
from advisor.page.site import Site, refusal

HOSTS = ("127.0.0.1", "localhost", "[::1]")
NOT_FOUND = 404


def application(site: Site, port: int) -> Starlette:
    """Return the page's application for a server on ``port``."""

    @asynccontextmanager
    async def working(_app: Starlette) -> AsyncIterator[None]:
        site.queue.start()
        if site.watch is not None:
            site.watch.start()
        try:
            yield
        finally:
            if site.watch is not None:
                site.watch.close()
            site.queue.close()

    app = Starlette(
        routes=_routes(),
        lifespan=working,
        middleware=[Middleware(Guard, hosts=frozenset(f"{host}:{port}" for host in HOSTS), token=site.token)],
        exception_handlers={RequestError: _refused, HTTPException: _failed},
    )
    app.state.site = site
    return app


def _routes() -> list[Route]:
    run, project = "/runs/{run:str}", "/projects/{project:int}"
    posted = {
        "/runs": writes.make_run,
        f"{run}/start": writes.start_run,
        f"{run}/stop": writes.stop_run,
        f"{run}/delete": writes.delete_run,
        f"{run}/drop-sounds": writes.drop_sounds,
        f"{project}/set-aside": writes.set_aside,
        f"{project}/take-back": writes.take_back,
    }
    read = {
        "/": pages.home_page,
        "/compare": pages.compare_page,
        "/master": pages.master_page,
        "/projects": pages.projects_page,
        "/references": pages.shelves_page,
        project: pages.project_page,
        run: pages.run_page,
        f"{run}/{{part:str}}/{{file:path}}": reports.report_file,
        "/page.css": reports.style_sheet,
        "/favicon.ico": reports.no_picture,
        "/page.js": reports.script,
    }
    return [
        *(Route(path, handler, methods=["POST"]) for path, handler in posted.items()),
        Route(f"{run}/{{slot:str}}", writes.take_file, methods=["PUT"]),
        *(Route(path, handler, methods=["GET"]) for path, handler in read.items()),
    ]


def _refused(request: Request, error: Exception) -> Response:
    return refusal(request, 400, str(error))


def _failed(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)  # noqa: S101 - the handler's own kind
    words = "There is no such page here." if error.status_code == NOT_FOUND and error.detail == "Not Found" else error.detail
    return refusal(request, error.status_code, words)
