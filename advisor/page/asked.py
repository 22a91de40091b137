"""Reads what was asked for from a form's fields."""

from collections.abc import Mapping
from typing import get_args

from advisor.app.errors import RequestError
from advisor.app.settings import load_settings
from advisor.history.store import proper_name
from advisor.page.runs import Asked, Kind
from advisor.store.database import FILE_NAME, open_database
from advisor.store.home import home


def asked_of(fields: Mapping[str, str]) -> Asked:
    """Return what a form asks for. Raises `RequestError`."""
    kind = fields.get("kind", "critique")
    kinds: tuple[Kind, ...] = get_args(Kind)
    known = next((name for name in kinds if name == kind), None)
    if known is None:
        raise RequestError("This form asks for something that there is not. Load the page anew.")
    project, quick, render = fields.get("project", "").strip(), "quick" in fields, "render" in fields
    if quick and render:
        raise RequestError("The quick look tries nothing, so there is no mastering chain to render. Choose one of the two.")
    return Asked(
        kind=known,
        project=proper_name(project) if project else None,
        references=_shelf(fields.get("references", "")),
        target_lufs=_target(fields.get("target", "")),
        quick=quick,
        render=render,
        keep="keep" in fields,
    )


def _target(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        return load_settings([], {"target_lufs": float(text.replace(",", "."))}).target_lufs
    except (ValueError, RequestError):
        raise RequestError("The target must be a loudness in LUFS, for example -13.") from None


def _shelf(name: str) -> str | None:
    """Return a shelf that there is; a path is none."""
    if not name:
        return None
    if name not in dict(shelves()):
        raise RequestError("There is no shelf of that name any more. Choose another one.")
    return name


def shelves() -> list[tuple[str, int]]:
    """Return the shelves with their numbers of songs."""
    from advisor.references.shelf import counts  # noqa: PLC0415 - only these pages need it

    if not (home() / FILE_NAME).exists():  # looking makes no file
        return []
    with open_database() as opened:
        return counts(opened)
