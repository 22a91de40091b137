"""Serves finished reports, their clips, and the page's own files.

What an address names is looked up in a list of what is there; it never becomes a path.
"""

from collections.abc import Mapping
from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response

from advisor.page.runs import FIRST, REPORT
from advisor.page.site import run_of, site_of
from advisor.report.html import PAGE

TYPES = {
    ".html": "text/html; charset=utf-8",
    ".md": "text/plain; charset=utf-8",
    ".json": "application/json",
    ".csv": "text/csv; charset=utf-8",
    ".wav": "audio/wav",
    ".flac": "audio/flac",
}
FIRST_PAGES = ("report.html", "compare.html", "master-report.html")
STATIC = Path(__file__).parent / "static"
REPORT_POLICY = (  # the report states its own policy too, which allows one script by its hash
    "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; media-src 'self' data:; script-src 'unsafe-inline'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
BACK = (
    '<nav aria-label="mixproof" style="max-width: 46rem; margin: 0 auto; padding: .8rem 1.25rem 0"><a href="{}">Back to the page</a></nav>'
)


def files_of(folder: Path) -> Mapping[str, Path]:
    """Return a report's files by their addresses."""
    paths = sorted(path for path in folder.rglob("*") if path.suffix in TYPES and path.is_file() and not path.is_symlink())
    inside = {path.relative_to(folder).as_posix(): path for path in paths}
    return {name: path for name, path in inside.items() if not any(part.startswith(".") for part in name.split("/"))}


def first_page_of(folder: Path) -> str | None:
    """Return the name of a report's page, or None."""
    return next((name for name in FIRST_PAGES if (folder / name).is_file()), None)


def report_file(request: Request) -> Response:
    """Serve a file of the first or whole report."""
    run, part = run_of(request), request.path_params["part"]
    if part not in (FIRST, REPORT):
        raise HTTPException(404, "There is nothing of that name here.")
    path = files_of(site_of(request).runs.place(run) / part).get(request.path_params["file"])
    if path is None:
        raise HTTPException(404, "There is no such file in this report.")
    if path.suffix != ".html":
        return FileResponse(path, media_type=TYPES[path.suffix])
    text = path.read_text(encoding="utf-8").replace("<body>", f"<body>\n{BACK.format(f'/runs/{run.id}')}", 1)
    return HTMLResponse(text, headers={"content-security-policy": REPORT_POLICY})


def style_sheet(_request: Request) -> Response:
    """Serve the report's look and the page's additions."""
    text = "".join(path.read_text(encoding="utf-8") for path in (PAGE / "style.css", STATIC / "page.css"))
    return Response(text, media_type="text/css")


def script(_request: Request) -> Response:
    """Serve the page's script."""
    return FileResponse(STATIC / "page.js", media_type="text/javascript")


def no_picture(_request: Request) -> Response:
    """Say that the page has no icon."""
    return Response(status_code=204)
