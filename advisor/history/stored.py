"""Reads reports that are kept.

Those of earlier versions measured less.
What such a report lacks is filled in as absent; a part that cannot be read is left out; what it says otherwise is left as it is.
"""

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from advisor.app.errors import RequestError
from advisor.report_model.codec import from_json
from advisor.report_model.report import Report

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

Path = Sequence[int | str]

ROUNDS = 12  # a record that is filled in shows what it lacks itself only then
EMPTY: dict[str, Any] = {"tuple_type": [], "list_type": [], "string_type": "", "bool_type": False, "dict_type": {}}
MAY_BE_NONE = frozenset(
    {"outlook", "trial", "remedy", "audition", "plan_check", "tried_on", "band_edges_hz", "mastering", "references", "history", "stems"}
)
NOT_MEASURED = "the version that measured this bounce did not look for it"


class UnreadableError(RequestError):
    """A report is kept that cannot be read."""


def read_report(text: bytes) -> Report:
    """Return a kept report.

    Raises `ValueError` for one that is beyond repair.
    """
    from pydantic import ValidationError  # noqa: PLC0415 - only a report that is read needs it

    for _ in range(ROUNDS):
        try:
            return from_json(Report, text)
        except ValidationError as error:
            text = _repaired(text, error.errors(include_url=False, include_context=False))
    return from_json(Report, text)


def _repaired(text: bytes, problems: Sequence["ErrorDetails"]) -> bytes:
    """Return the report completed, without its unreadable parts."""
    document = json.loads(text)
    if not isinstance(document, dict):
        raise ValueError("a report is a JSON object")  # noqa: TRY004 - like all else that does not fit
    unreadable = [problem["loc"] for problem in problems if not _filled(document, problem["loc"], problem["type"])]
    for path in dict.fromkeys(_part(path) for path in reversed(unreadable)):  # the last of a list first, so that places hold
        _leave_out(document, path)
    return json.dumps(document).encode("utf-8")


def _filled(document: dict[str, Any], path: Path, problem: str) -> bool:
    """Fill in a missing value; return whether that worked."""
    *way, name = path
    record: Any = document
    for step in way:
        if not isinstance(record, dict) or step in record:  # a record that lies flat in JSON has no key of its own
            record = record[step]
    if not isinstance(record, dict) or record.get(str(name)) is not None:
        return False
    if problem == "missing" and name not in record:
        if isinstance(record.get("absent"), list):
            record["absent"].append({"field": name, "reason": NOT_MEASURED})
        record[str(name)] = None
        return True
    if problem in EMPTY:
        record[str(name)] = EMPTY[problem]
    return problem in EMPTY


def _part(path: Path) -> tuple[int | str, ...]:
    """Return the dispensable part around a path; empty for none."""
    if path[0] == "measurements":
        return tuple(path[:2])
    if path[0] in ("stems", "plan") and len(path) > 1:
        return tuple(path[:2])
    inside = [place for place, step in enumerate(path) if step in MAY_BE_NONE]
    return tuple(path[: inside[0] + 1]) if inside else ()


def _leave_out(document: dict[str, Any], path: Path) -> None:
    if not path:
        return
    *way, name = path
    record: Any = document
    for step in way:
        record = record[step]
    if isinstance(name, int) or path[0] == "measurements":
        del record[name]
    else:
        record[name] = None
