"""Projects, bounces and set-asides in the database.

Every function works inside a transaction of its caller.
"""

import json
import re
import sqlite3
import unicodedata
import zlib
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import TypeVar

from advisor.app.errors import RequestError
from advisor.app.finding_key import SetAside
from advisor.app.history_words import shown
from advisor.app.settings import suggestion
from advisor.history.reading import JudgingSettings, judging_settings, reading, total_excess
from advisor.history.stored import UnreadableError, read_report
from advisor.report_model.codec import from_json, to_json
from advisor.report_model.history import HistorySection
from advisor.report_model.report import Report
from features.elements.fingerprint import Fingerprint
from features.records.level import Level
from features.records.outlook import Outlook
from features.sound.opening.door import as_text

KEPT_DAYS = 30
LONGEST_NAME = 1000
MOST_BOUNCES = 1_000_000
MOST_REPORT_BYTES = 64 << 20
NO_NUMBER = re.compile(rb"[:\[,]\s*-?(?:NaN|Infinity|[0-9.]+[eE]\+?[0-9]{3})")
RowT = TypeVar("RowT")


@dataclass(frozen=True, slots=True)
class Project:
    """A project as the list of projects shows it."""

    id: int
    name: str
    bounces: int
    last: str | None


@dataclass(frozen=True, slots=True)
class Bounce:
    """One recorded bounce, without its report."""

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
    """Return a project's name as it is kept.

    Raises `RequestError` for one that cannot be.
    """
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
    return [Project(number, name, count, last if is_moment(last) else None) for number, name, count, last in rows if isinstance(name, str)]


def project_id(read: sqlite3.Connection, name: str) -> int | None:
    """Return a project's number, or None."""
    row = read.execute("SELECT id FROM projects WHERE name = ? AND deleted IS NULL", (proper_name(name),)).fetchone()
    return None if row is None else int(row[0])


def find(read: sqlite3.Connection, name: str) -> int:
    """Return a project's number.

    Raises `RequestError` with the nearest name where there is none.
    """
    project = project_id(read, name)
    if project is not None:
        return project
    known = [other.name for other in projects(read)]
    there = "" if known else " None has been recorded yet: add --project NAME to a critique."
    raise RequestError(f"There is no project called '{shown(name)}'.{suggestion(shown(name), [shown(other) for other in known])}{there}")


def find_or_make(write: sqlite3.Connection, name: str, now: datetime) -> int:
    """Return a project's number, making a new project."""
    project = project_id(write, name)
    if project is not None:
        return project
    made = write.execute("INSERT INTO projects (name, made) VALUES (?, ?)", (proper_name(name), stamp(now)))
    return int(made.lastrowid or 0)


def bounces(read: sqlite3.Connection, project: int) -> list[Bounce]:
    """Return a project's bounces in their order.

    A row that cannot be read is left out.
    """
    rows = read.execute(f"SELECT {COLUMNS} FROM bounces WHERE project = ? ORDER BY number", (project,))  # noqa: S608 - our own names
    return [bounce for row in rows if (bounce := _bounce(row)) is not None]


def _bounce(row: tuple[object, ...]) -> Bounce | None:
    bounce = _read(Bounce, dict(zip(COLUMNS.split(", "), row, strict=True)))
    if bounce is None or not is_moment(bounce.recorded) or not 0 < bounce.number < MOST_BOUNCES:
        return None
    return bounce if _read(JudgingSettings, bounce.settings) is not None else None


def _read(kind: type[RowT], values: object) -> RowT | None:
    """Return what a row holds; None where its values are not of their kinds, so that one bad row costs that row."""
    try:
        return from_json(kind, values if isinstance(values, str) else json.dumps(values, allow_nan=False))
    except (ValueError, TypeError, RecursionError):
        return None


def is_moment(text: object) -> bool:
    """Whether a text says when something was."""
    try:
        datetime.fromisoformat(str(text)).astimezone()
    except (ValueError, OverflowError, OSError):
        return False
    return True


def damaged_bounces(read: sqlite3.Connection, project: int) -> int:
    """Return how many of a project's bounces cannot be read."""
    (there,) = read.execute("SELECT count(*) FROM bounces WHERE project = ?", (project,)).fetchone()
    return int(there) - len(bounces(read, project))


def next_number(read: sqlite3.Connection, project: int) -> int:
    """Return the number of a project's next bounce."""
    (last,) = read.execute(
        "SELECT max(number) FROM bounces WHERE project = ? AND typeof(number) = 'integer' AND number BETWEEN 0 AND ?",
        (project, MOST_BOUNCES),
    ).fetchone()
    return (last or 0) + 1


def has_bounce(read: sqlite3.Connection, project: str, number: int, sha256: str) -> bool:
    """Whether that bounce of a project is that file."""
    row = read.execute(
        "SELECT 1 FROM bounces b JOIN projects p ON b.project = p.id WHERE p.name = ? AND b.number = ? AND b.sha256 = ?",
        (project, number, sha256),
    ).fetchone()
    return row is not None


def packed(report: Report) -> bytes:
    """Return a report as it is kept."""
    return zlib.compress(to_json(report, indent=None).encode("utf-8"), 6)


def stored_json(read: sqlite3.Connection, bounce: Bounce) -> bytes:
    """Return a bounce's report as it was written."""
    (row,) = read.execute("SELECT report FROM bounces WHERE id = ?", (bounce.id,)).fetchone()
    try:
        return zlib.decompressobj().decompress(row, MOST_REPORT_BYTES)
    except (zlib.error, TypeError) as error:
        raise UnreadableError(_unreadable(bounce, "its bytes are damaged")) from error


def report_of(read: sqlite3.Connection, bounce: Bounce) -> Report:
    """Return a bounce's report, whichever version wrote it.

    Raises `UnreadableError` where it cannot be read at all.
    """
    text = stored_json(read, bounce)
    if NO_NUMBER.search(text):
        raise UnreadableError(_unreadable(bounce, "a number in it is none"))
    try:
        return read_report(text)
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError) as error:
        raise UnreadableError(_unreadable(bounce, "it is no report that this version knows")) from error


def _unreadable(bounce: Bounce, why: str) -> str:
    return f"The report kept of bounce {bounce.number}, {shown(bounce.file_name, 60)}, cannot be read: {why}. It is kept as it is."


def judged_with(report: Report) -> str:
    """Return a report's judging settings as they are kept."""
    return json.dumps(asdict(judging_settings(report)), sort_keys=True)


def settings_of(bounce: Bounce) -> JudgingSettings:
    """Return the settings that decided what a bounce's critique found."""
    return from_json(JudgingSettings, bounce.settings)


def add(
    write: sqlite3.Connection, project: int, report: Report, section: HistorySection, prints: Sequence[Fingerprint], now: datetime
) -> None:
    """Record a bounce, its findings, followed steps and elements."""
    made = write.execute(
        "INSERT INTO bounces (project, number, recorded, file_name, sha256, settings, report, integrated_lufs, clean_lufs, margin_lu,"
        " excess) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (project, section.number, stamp(now), as_text(report.mix.name), report.mix.sha256, judged_with(report), *_judged_columns(report)),
    )
    _add_parts(write, int(made.lastrowid or 0), section, prints)


def replace(write: sqlite3.Connection, bounce: Bounce, report: Report, section: HistorySection, prints: Sequence[Fingerprint]) -> None:
    """Replace a bounce's report by one that says more."""
    write.execute(
        "UPDATE bounces SET report = ?, integrated_lufs = ?, clean_lufs = ?, margin_lu = ?, excess = ?, repeats = repeats + 1 WHERE id = ?",
        (*_judged_columns(report), bounce.id),
    )
    write.execute("DELETE FROM findings WHERE bounce = ?", (bounce.id,))
    write.execute("DELETE FROM steps WHERE bounce = ?", (bounce.id,))
    write.execute("DELETE FROM elements WHERE bounce = ?", (bounce.id,))
    _add_parts(write, bounce.id, section, prints)


def note_repeat(write: sqlite3.Connection, bounce: Bounce) -> None:
    """Count that the same file was critiqued again."""
    write.execute("UPDATE bounces SET repeats = repeats + 1 WHERE id = ?", (bounce.id,))


def _judged_columns(report: Report) -> tuple[bytes, float | None, float | None, float | None, float]:
    readings = (
        reading(report, Level, lambda level: level.integrated_lufs),
        reading(report, Outlook, lambda outlook: outlook.clean_lufs),
        reading(report, Outlook, lambda outlook: outlook.margin_lu),
    )
    return packed(report), *readings, total_excess(report)


def _add_parts(write: sqlite3.Connection, bounce: int, section: HistorySection, prints: Sequence[Fingerprint]) -> None:
    write.executemany(
        "INSERT INTO findings VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (bounce, place, finding.rule, finding.stem, *(finding.band_hz or (None, None)), finding.side, finding.title, finding.state,
             finding.before, finding.after)
            for place, finding in enumerate(section.findings)
        ],
    )  # fmt: skip
    write.executemany(
        "INSERT INTO steps VALUES (?, ?, ?, ?, ?, ?, ?)",
        [(bounce, step.step, step.rule, step.move, step.verdict, step.share, step.sure) for step in section.steps],
    )
    write.executemany(
        "INSERT INTO elements VALUES (?, ?, ?, ?)",
        [
            (bounce, place, as_text(element.name), zlib.compress(to_json(element, indent=None).encode("utf-8"), 6))
            for place, element in enumerate(prints)
        ],
    )


def prints_of(read: sqlite3.Connection, bounce: Bounce) -> tuple[Fingerprint, ...]:
    """Return what is kept of a bounce's elements.

    Empty without stems, or where it cannot be read.
    """
    rows = read.execute("SELECT readings FROM elements WHERE bounce = ? ORDER BY place", (bounce.id,))
    try:
        return tuple(from_json(Fingerprint, zlib.decompress(row)) for (row,) in rows)
    except (zlib.error, ValueError):
        return ()


def states(read: sqlite3.Connection, project: int) -> dict[int, dict[str, int]]:
    """Return how many findings have which state, by bounce."""
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
    decisions = []
    for rule, stem, low, high, side, *rest in rows:
        key = {"rule": rule, "stem": stem, "band_hz": None if low is None else (low, high), "side": side}
        decisions.append(_read(SetAside, {"key": key, **dict(zip(("title", "excess", "because", "since", "made"), rest, strict=True))}))
    return tuple(decision for decision in decisions if decision is not None)


def set_aside(write: sqlite3.Connection, project: int, decisions: Sequence[SetAside]) -> None:
    """Set findings aside, in place of earlier decisions on them."""
    for decision in decisions:
        key = decision.key
        low, high = key.band_hz or (None, None)
        same = (project, key.rule, key.stem, low, high, key.side)
        write.execute(
            "DELETE FROM set_asides WHERE project = ? AND rule = ? AND stem IS ? AND low_hz IS ? AND high_hz IS ? AND side IS ?", same
        )
        write.execute(
            "INSERT INTO set_asides (project, rule, stem, low_hz, high_hz, side, title, excess, because, since, made)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (*same, decision.title, decision.excess, decision.because, decision.since, decision.made),
        )


def take_back(write: sqlite3.Connection, project: int, rule: str, stem: str | None) -> int:
    """Forget set-asides of a rule. Return how many were."""
    if stem is None:
        return write.execute("DELETE FROM set_asides WHERE project = ? AND rule = ?", (project, rule)).rowcount
    return write.execute("DELETE FROM set_asides WHERE project = ? AND rule = ? AND stem = ?", (project, rule, stem)).rowcount


def delete(write: sqlite3.Connection, project: int, now: datetime) -> None:
    """Take a project out of sight. `clean_up` removes it later."""
    write.execute("UPDATE projects SET deleted = ? WHERE id = ?", (stamp(now), project))


def restore(write: sqlite3.Connection, name: str) -> int:
    """Bring a deleted project back. Return its bounces' count."""
    proper = proper_name(name)
    row = write.execute(
        "SELECT id FROM projects WHERE name = ? AND deleted IS NOT NULL ORDER BY deleted DESC, id DESC", (proper,)
    ).fetchone()
    if row is None:
        gone = [name for (name,) in write.execute("SELECT DISTINCT name FROM projects WHERE deleted IS NOT NULL")]
        raise RequestError(
            f"No deleted project called '{shown(name)}' is kept; deleted ones are removed {KEPT_DAYS} days later."
            f"{suggestion(shown(name), [shown(other) for other in gone])}"
        )
    if project_id(write, name) is not None:
        raise RequestError(
            f"'{shown(name)}' is the name of a newer project, so the deleted one cannot come back. Delete the newer one first."
        )
    write.execute("UPDATE projects SET deleted = NULL WHERE id = ?", (row[0],))
    count = write.execute("SELECT count(*) FROM bounces WHERE project = ?", (row[0],)).fetchone()
    return int(count[0])


def clean_up(write: sqlite3.Connection, now: datetime) -> list[str]:
    """Remove projects deleted long ago. Return their names."""
    long_ago = stamp(now - timedelta(days=KEPT_DAYS))
    names = [row[0] for row in write.execute("SELECT name FROM projects WHERE deleted <= ?", (long_ago,))]
    write.execute("DELETE FROM projects WHERE deleted <= ?", (long_ago,))
    return names
