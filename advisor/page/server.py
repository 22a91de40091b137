"""Starts the page on this machine's own address."""

import secrets
import socket
from collections.abc import Callable
from datetime import UTC, datetime

import uvicorn

from advisor.app.errors import RequestError
from advisor.page.application import application
from advisor.page.queue import Queue
from advisor.page.runs import Runs
from advisor.page.site import Site
from advisor.page.uploads import Caps
from advisor.page.watched import FolderWatch, WatchAsked

LOOPBACK = "127.0.0.1"
PORT = 8737


def listening(port: int | None) -> socket.socket:
    """Return a socket on loopback.

    It is on the usual port where that is free. Raises `RequestError` where a port that was asked for is taken.
    """
    for wanted in (PORT, 0) if port is None else (port,):
        opened = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            opened.bind((LOOPBACK, wanted))
        except (OSError, OverflowError):
            opened.close()
        else:
            return opened
    raise RequestError(f"Port {port} is taken, or not yours to use. Leave out --port, and a free one is chosen.")


def site(watch: WatchAsked | None) -> Site:
    """Return what a start of the server works with."""

    def now() -> datetime:
        return datetime.now(UTC)

    runs = Runs()
    queue = Queue(runs)
    watching = None if watch is None else FolderWatch(watch, runs, queue, now)
    return Site(runs, queue, secrets.token_urlsafe(32), now, Caps(), watching)


def server(opened: socket.socket, watch: WatchAsked | None, started: Callable[[str], object]) -> uvicorn.Server:
    """Return a server of the page for a socket.

    ``started`` gets the page's address once the server answers.
    """
    port = opened.getsockname()[1]
    app = application(site(watch), port)
    config = uvicorn.Config(app, log_level="warning", server_header=False, proxy_headers=False, ws="none", timeout_graceful_shutdown=2)
    return _Server(config, lambda: started(f"http://{LOOPBACK}:{port}/"))


class _Server(uvicorn.Server):
    """A server that says when it has started."""

    def __init__(self, config: uvicorn.Config, started: Callable[[], object]) -> None:
        super().__init__(config)
        self._say = started

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self._say()
