"""Projects, bounces and set-asides in the database; every function works inside a transaction of its caller."""

import json
import sqlite3
import unicodedata
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from advisor.app.errors import RequestError
from advisor.app.finding_key import FindingKey, SetAside
from advisor.app.history_words import shown
from advisor.app.settings import suggestion
from advisor.history.reading import settings_that_judge, total_excess, value

Document = dict[str, Any]

KEPT_DAYS = 30
LONGEST_NAME = 1000


@dataclass(frozen=True, slots=True)
class Project:
    """A project as the list of projects shows it."""

    id: int
    name: str
    bounces: int
    last: str | None


@dataclass(frozen=True, slots=True)
class Bounce:
    """One recorded bounce; its report is read when it is asked for."""

    id: int
    number: int
    recorded: str
    file_name: str
    sha256: str
    settings: str
    integrated_lufs: float | None
    clean_lufs: float | None
    margin_lu: float | None
    excess: float
    repeats: int


COLUMNS = "id, number, recorded, file_name, sha256, settings, integrated_lufs, clean_lufs, margin_lu, excess, repeats"


def stamp(moment: datetime) -> str:
    """Return a moment as it is kept."""
    return moment.isoformat(timespec="seconds")


def proper_name(name: str) -> str:
    """Return a project's name as it is kept; raises `RequestError` for one that cannot be."""
    proper = unicodedata.normalize("NFC", name.strip())
    if not proper:
        raise RequestError("A project needs a name, and this one is empty. Write for example --project 'Harbour'.")
    if len(proper) > LONGEST_NAME:
        raise RequestError(f"That project's name has {len(proper)} characters; at most {LONGEST_NAME} are kept. Choose a shorter one.")
    try:
        proper.encode("utf-8")
    except UnicodeEncodeError:
        raise RequestError("That project's name holds bytes that are no text, so it cannot be kept. Choose another one.") from None
    return proper


def projects(read: sqlite3.Connection) -> list[Project]:
    """Return all projects, the one last worked on first."""
    rows = read.execute(
        "SELECT p.id, p.name, count(b.id), max(b.recorded) FROM projects p LEFT JOIN bounces b ON b.project = p.id"
        " WHERE p.deleted IS NULL GROUP BY p.id ORDER BY max(b.recorded) DESC, p.name"
    )
    return [Project(*row) for row in rows]


def project_id(read: sqlite3.Connection, name: str) -> int | None:
    """Return a project's number, or None."""
    row = read.execute("SELECT id FROM projects WHERE name = ? AND deleted IS NULL", (proper_name(name),)).fetchone()
    return None if row is None else int(row[0])


def find(read: sqlite3.Connection, name: str) -> int:
    """Return a project's number; raises `RequestError` with the nearest name where there is none."""
    found = project_id(read, name)
    if found is not None:
        return found
    known = [one.name for one in projects(read)]
    there = "" if known else " None has been recorded yet: add --project NAME to a critique."
    raise RequestError(f"There is no project called '{shown(name)}'.{suggestion(shown(name), [shown(one) for one in known])}{there}")


def find_or_make(write: sqlite3.Connection, name: str, now: datetime) -> int:
    """Return a project's number, making the project where it is new."""
    found = project_id(write, name)
    if found is not None:
        return found
    made = write.execute("INSERT INTO projects (name, made) VALUES (?, ?)", (proper_name(name), stamp(now)))
    return int(made.lastrowid or 0)


def bounces(read: sqlite3.Connection, project: int) -> list[Bounce]:
    """Return a project's bounces in their order."""
    rows = read.execute(f"SELECT {COLUMNS} FROM bounces WHERE project = ? ORDER BY number", (project,))  # noqa: S608 - our own names
    return [Bounce(*row) for row in rows]


def packed(report: Document) -> bytes:
    """Return a report as it is kept."""
    return zlib.compress(json.dumps(report, ensure_ascii=False, allow_nan=False).encode("utf-8"), 6)


def report_of(read: sqlite3.Connection, bounce: Bounce) -> Document:
    """Return a bounce's report."""
    row = read.execute("SELECT report FROM bounces WHERE id = ?", (bounce.id,)).fetchone()
    found: Document = json.loads(zlib.decompress(row[0]))
    return found


def judged_with(report: Document) -> str:
    """Return the settings that decide what is found, as they are kept and compared."""
    return json.dumps(settings_that_judge(report), sort_keys=True)


def add(write: sqlite3.Connection, project: int, number: int, report: Document, now: datetime) -> None:
    """Record one bounce with what changes of its findings and of the steps before it."""
    made = write.execute(
        "INSERT INTO bounces (project, number, recorded, file_name, sha256, settings, report, integrated_lufs, clean_lufs, margin_lu,"
        " excess) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (project, number, stamp(now), _text(report["mix"]["name"]), report["mix"]["sha256"], judged_with(report), *_kept(report)),
    )
    _add_parts(write, int(made.lastrowid or 0), report["history"])


def replace(write: sqlite3.Connection, bounce: Bounce, report: Document) -> None:
    """Let a report that knows more take the place of the one recorded for the same bounce."""
    write.execute(
        "UPDATE bounces SET report = ?, integrated_lufs = ?, clean_lufs = ?, margin_lu = ?, excess = ?, repeats = repeats + 1 WHERE id = ?",
        (*_kept(report), bounce.id),
    )
    write.execute("DELETE FROM findings WHERE bounce = ?", (bounce.id,))
    write.execute("DELETE FROM steps WHERE bounce = ?", (bounce.id,))
    _add_parts(write, bounce.id, report["history"])


def note_repeat(write: sqlite3.Connection, bounce: Bounce) -> None:
    """Count that the same file was critiqued again."""
    write.execute("UPDATE bounces SET repeats = repeats + 1 WHERE id = ?", (bounce.id,))


def _kept(report: Document) -> tuple[bytes, float | None, float | None, float | None, float]:
    readings = (value(report, "level", "integrated_lufs"), value(report, "outlook", "clean_lufs"), value(report, "outlook", "margin_lu"))
    return packed(report), *readings, total_excess(report)


def _text(name: str) -> str:
    return name.encode("utf-8", "replace").decode("utf-8")


def _add_parts(write: sqlite3.Connection, bounce: int, history: Document) -> None:
    write.executemany(
        "INSERT INTO findings VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (bounce, place, one["rule"], one["stem"], *(one["band_hz"] or (None, None)), one["side"], one["title"], one["state"],
             one["before"], one["after"])
            for place, one in enumerate(history["findings"])
        ],
    )  # fmt: skip
    write.executemany(
        "INSERT INTO steps VALUES (?, ?, ?, ?, ?, ?, ?)",
        [(bounce, one["step"], one["rule"], one["move"], one["verdict"], one["share"], one["sure"]) for one in history["steps"]],
    )


def states(read: sqlite3.Connection, project: int) -> dict[int, dict[str, int]]:
    """Return for each bounce's number how many findings have which state."""
    rows = read.execute(
        "SELECT b.number, f.state, count(*) FROM findings f JOIN bounces b ON f.bounce = b.id WHERE b.project = ? GROUP BY 1, 2", (project,)
    )
    counted: dict[int, dict[str, int]] = {}
    for number, state, count in rows:
        counted.setdefault(number, {})[state] = count
    return counted


def set_asides(read: sqlite3.Connection, project: int) -> tuple[SetAside, ...]:
    """Return what a project has set aside."""
    rows = read.execute(
        "SELECT rule, stem, low_hz, high_hz, side, title, excess, because, since, made FROM set_asides WHERE project = ? ORDER BY id",
        (project,),
    )
    return tuple(
        SetAside(FindingKey(rule, stem, None if low is None else (low, high), side), *rest) for rule, stem, low, high, side, *rest in rows
    )


def set_aside(write: sqlite3.Connection, project: int, decisions: Sequence[SetAside]) -> None:
    """Set findings aside; an earlier decision on the same finding goes."""
    for one in decisions:
        low, high = one.key.band_hz or (None, None)
        same = (project, one.key.rule, one.key.stem, low, high, one.key.side)
        write.execute(
            "DELETE FROM set_asides WHERE project = ? AND rule = ? AND stem IS ? AND low_hz IS ? AND high_hz IS ? AND side IS ?", same
        )
        write.execute(
            "INSERT INTO set_asides (project, rule, stem, low_hz, high_hz, side, title, excess, because, since, made)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (*same, one.title, one.excess, one.because, one.since, one.made),
        )


def take_back(write: sqlite3.Connection, project: int, rule: str, stem: str | None) -> int:
    """Forget that findings of a rule were set aside; return how many were."""
    if stem is None:
        return write.execute("DELETE FROM set_asides WHERE project = ? AND rule = ?", (project, rule)).rowcount
    return write.execute("DELETE FROM set_asides WHERE project = ? AND rule = ? AND stem = ?", (project, rule, stem)).rowcount


def delete(write: sqlite3.Connection, project: int, now: datetime) -> None:
    """Take a project out of sight; it is removed by `clean_up` after some days."""
    write.execute("UPDATE projects SET deleted = ? WHERE id = ?", (stamp(now), project))


def restore(write: sqlite3.Connection, name: str) -> int:
    """Bring the project deleted last under this name back; return how many bounces it has."""
    proper = proper_name(name)
    row = write.execute(
        "SELECT id FROM projects WHERE name = ? AND deleted IS NOT NULL ORDER BY deleted DESC, id DESC", (proper,)
    ).fetchone()
    if row is None:
        gone = [one[0] for one in write.execute("SELECT DISTINCT name FROM projects WHERE deleted IS NOT NULL")]
        raise RequestError(
            f"No deleted project called '{shown(name)}' is kept; deleted ones are removed {KEPT_DAYS} days later."
            f"{suggestion(shown(name), [shown(one) for one in gone])}"
        )
    if project_id(write, name) is not None:
        raise RequestError(
            f"'{shown(name)}' is the name of a newer project, so the deleted one cannot come back. Delete the newer one first."
        )
    write.execute("UPDATE projects SET deleted = NULL WHERE id = ?", (row[0],))
    found = write.execute("SELECT count(*) FROM bounces WHERE project = ?", (row[0],)).fetchone()
    return int(found[0])


def clean_up(write: sqlite3.Connection, now: datetime) -> list[str]:
    """Remove projects that were deleted long enough ago; return their names."""
    long_ago = stamp(now - timedelta(days=KEPT_DAYS))
    names = [row[0] for row in write.execute("SELECT name FROM projects WHERE deleted <= ?", (long_ago,))]
    write.execute("DELETE FROM projects WHERE deleted <= ?", (long_ago,))
    return names
