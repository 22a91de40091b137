"""A page for tests, with workers that do as they are told."""

import json
import sys
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import anyio
import httpx
from starlette.applications import Starlette

from advisor.page.application import application
from advisor.page.queue import Queue
from advisor.page.runs import Run, Runs
from advisor.page.site import Site
from advisor.page.uploads import Caps
from advisor.page.watched import FolderWatch, WatchAsked

PORT = 8737
TOKEN = "the-token-of-this-start"  # noqa: S105 - of the tests alone
ADDRESS = f"http://127.0.0.1:{PORT}"
DONE = "report = folder / 'report'; report.mkdir(exist_ok=True); (report / 'report.html').write_text('<body>read me</body>')"
ENDLESS = "(folder / 'begun').touch(); time.sleep(60)"
WAITED_S = 20.0


def worker(code: str) -> tuple[str, ...]:
    """Return the command of a worker that runs ``code`` with its run's ``folder``."""
    watch = "threading.Thread(target=lambda: (sys.stdin.read(), os._exit(1)), daemon=True).start()"
    return (
        sys.executable,
        "-S",
        "-c",
        f"import os, sys, threading, time\nfrom pathlib import Path\nfolder = Path(sys.argv[1])\n{watch}\n{code}",
    )


class InProcess(httpx.BaseTransport):
    """Hands requests to an application of this process, streams as streams."""

    def __init__(self, app: Starlette) -> None:
        self._asked = httpx.ASGITransport(app)

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        async def chunks() -> AsyncIterator[bytes]:
            assert isinstance(request.stream, httpx.SyncByteStream)
            for chunk in request.stream:
                yield chunk

        async def answer() -> httpx.Response:
            given = httpx.Request(request.method, request.url, headers=request.headers, content=chunks())
            answered = await self._asked.handle_async_request(given)
            return httpx.Response(answered.status_code, headers=answered.headers, content=await answered.aread())

        return anyio.run(answer)


@dataclass(frozen=True, slots=True)
class Page:
    """A page without a socket, and what it works with."""

    client: httpx.Client
    runs: Runs
    queue: Queue
    watched: FolderWatch | None

    @property
    def watch(self) -> FolderWatch:
        """The watched folder, where there is one."""
        assert self.watched is not None
        return self.watched

    @contextmanager
    def working(self) -> Iterator[None]:
        """Work off the line meanwhile."""
        self.queue.start()
        try:
            yield
        finally:
            self.queue.close()

    def post(self, address: str, status: int = 303, **fields: str) -> str:
        """Send a form with the token; return where it leads, or what was answered."""
        answer = self.client.post(address, data={"token": TOKEN, **fields}, follow_redirects=False)
        assert answer.status_code == status, answer.text
        return str(answer.headers.get("location", answer.text))

    def put(self, address: str, content: bytes) -> int:
        """Send a file with the token; return the status."""
        return self.client.put(address, content=content, headers={"x-mixproof-token": TOKEN}).status_code

    def receiving(self, **fields: str) -> Run:
        """Return a run that takes files in."""
        run = self.runs.get(json.loads(self.post("/runs", 201, **fields))["run"])
        assert run is not None
        return run

    def asked(self, name: str = "mix.wav", content: bytes = b"sound", **fields: str) -> Run:
        """Return a run that waits, with a mix of that content."""
        run = self.receiving(keep="on", **fields)
        assert self.put(f"/runs/{run.id}/mix?name={name}", content) == 201
        self.post(f"/runs/{run.id}/start")
        return self.now(run)

    def now(self, run: Run) -> Run:
        """Return a run as it is now."""
        there = self.runs.get(run.id)
        assert there is not None
        return there


def page(folder: Path, code: str = DONE, caps: Caps | None = None, watched: WatchAsked | None = None) -> Page:
    """Return a page whose workers run ``code``; used as it is, nobody works in its line."""
    runs = Runs(folder / "critiques")
    queue = Queue(runs, worker(code))
    seconds = count()

    def now() -> datetime:
        return datetime(2030, 1, 2, tzinfo=UTC) + timedelta(seconds=next(seconds))

    watch = None if watched is None else FolderWatch(watched, runs, queue, now)
    site = Site(runs, queue, TOKEN, now, caps or Caps(), watch)
    return Page(httpx.Client(transport=InProcess(application(site, PORT)), base_url=ADDRESS), runs, queue, watch)


def wait_until(condition: Callable[[], bool]) -> None:
    """Wait for something that is bound to happen."""
    end = time.monotonic() + WAITED_S
    while not condition():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.01)
