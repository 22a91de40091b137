"""Records a critique in its project: one transaction, in which the report is written too, so that both say the same."""

import json
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from advisor.app.errors import RequestError
from advisor.app.finding_key import SetAside
from advisor.app.history_words import counted, shown
from advisor.history import store
from advisor.history.reading import asides, key_of
from advisor.history.story import tell
from advisor.report_model.codec import from_json, to_json
from advisor.report_model.findings import ReportedFinding
from advisor.report_model.report import Report
from advisor.store.database import Database, open_database

Document = dict[str, Any]

ALIKE = 0.75  # names of projects that are nearer than this may be a slip of the hand


class Recorder:
    """One project that a critique is recorded in."""

    def __init__(self, name: str, now: Callable[[], datetime], folder: Path | None = None) -> None:
        """Open the database once, so that what stands in the way is said before the work."""
        self.name = store.proper_name(name)
        self.set_asides: tuple[SetAside, ...] = ()
        self.notes: list[str] = []
        self._now, self._folder = now, folder
        with open_database(folder, now) as opened, opened.reading() as read:
            self._take_note(opened)
            project = store.project_id(read, self.name)
            if project is None:
                self._take_note_of_near([one.name for one in store.projects(read)])
            else:
                self.set_asides = store.set_asides(read, project)

    def _take_note(self, opened: Database) -> None:
        if opened.set_aside is not None:
            self.notes.append(
                f"The file that keeps the history was damaged. It was moved to {opened.set_aside}, unchanged, and a new one was started"
            )

    def _take_note_of_near(self, known: Sequence[str]) -> None:
        near = get_close_matches(self.name, known, n=1, cutoff=ALIKE)
        if near:
            self.notes.append(f"This starts a new project, '{shown(self.name)}'; there is also one called '{shown(near[0])}'")

    @contextmanager
    def recording(self, report: Document, aside_now: Sequence[Document]) -> Iterator[Document]:
        """Fill in the report's history, lend it to be written, and record it; all or nothing."""
        written = False
        try:
            with open_database(self._folder, self._now) as opened, opened.writing() as write:
                self._take_note(opened)
                removed = store.clean_up(write, self._now())
                project = store.find_or_make(write, self.name, self._now())
                same = _same(write, project, report)
                report["history"] = self._history(write, project, report, aside_now, same)
                report["notes"] = [*report["notes"], *self.notes, *_removed(removed)]
                yield report
                written = True
                self._keep(write, project, report, same)
        except RequestError as error:
            if written:
                raise RequestError(f"The report is written, but this bounce was not recorded in the history. {error}") from error
            raise

    def _keep(self, write: sqlite3.Connection, project: int, report: Document, same: store.Bounce | None) -> None:
        if same is None:
            store.add(write, project, report["history"]["number"], report, self._now())
        elif report["history"]["replaces"]:
            store.replace(write, same, report)
        else:
            store.note_repeat(write, same)

    def _history(
        self,
        write: sqlite3.Connection,
        project: int,
        report: Document,
        aside_now: Sequence[Document],
        same: store.Bounce | None,
    ) -> Document:
        there = store.bounces(write, project)
        number = same.number if same is not None else max((one.number for one in there), default=0) + 1
        past = [one for one in there if one.number < number]
        before = [(one.number, store.report_of(write, one)) for one in past]
        last = past[-1] if past else None
        file_again = next((one.number for one in past if one.sha256 == report["mix"]["sha256"]), None)
        return {
            "project": self.name,
            "number": number,
            "repeat": same is not None,
            "replaces": same is not None and _says_more(report, store.report_of(write, same), aside_now),
            "previous": None if last is None else {"number": last.number, "name": last.file_name, "recorded": last.recorded},
            "same_file_as": file_again,
            "settings_changed": [] if last is None else changed_settings(json.loads(last.settings), json.loads(store.judged_with(report))),
            "course": [
                {"number": one.number, "clean_lufs": one.clean_lufs, "margin_lu": one.margin_lu, "excess": one.excess} for one in past
            ],
            **tell(report, number, before, self.set_asides, aside_now),
        }


@contextmanager
def recorded(report: Report, aside_now: Sequence[ReportedFinding], project: Recorder | None) -> Iterator[Report]:
    """Lend the report with its history, and record it when it is written; as it is where there is no project to record it in."""
    if project is None:
        yield report
        return
    with project.recording(json.loads(to_json(report)), [json.loads(to_json(finding)) for finding in aside_now]) as document:
        yield from_json(Report, json.dumps(document))


def _same(read: sqlite3.Connection, project: int, report: Document) -> store.Bounce | None:
    """Return the bounce that is this very file, critiqued with the same settings."""
    sha256, settings = report["mix"]["sha256"], store.judged_with(report)
    found = [one for one in store.bounces(read, project) if sha256 and (one.sha256, one.settings) == (sha256, settings)]
    return found[-1] if found else None


def _says_more(report: Document, old: Document, aside_now: Sequence[Document]) -> bool:
    """Whether a second critique of a file tried what the first did not, or other findings are set aside by now."""
    if (report.get("tried_on") is None) != (old.get("tried_on") is None):
        return report.get("tried_on") is not None
    return {key_of(one) for one in aside_now} != {key_of(one) for one in asides(old)}


def _removed(names: Sequence[str]) -> list[str]:
    if not names:
        return []
    listed = ", ".join(f"'{shown(name, 40)}'" for name in names)
    what = counted(len(names), "project", "projects")
    return [f"{what} deleted more than {store.KEPT_DAYS} days ago {'is' if len(names) == 1 else 'are'} now removed for good: {listed}"]


def changed_settings(old: Document, new: Document) -> list[str]:
    """Return in words which settings that decide what is found differ from those of the bounce before.

    >>> changed_settings({"target_lufs": -13.0, "stems": False}, {"target_lufs": -11.0, "stems": True})
    ['the target is -11 LUFS instead of -13', 'this time there are stems']
    """
    words = []
    for name, said, unit in (("target_lufs", "the target", "LUFS"), ("ceiling_dbtp", "the ceiling", "dBTP")):
        if old.get(name) != new.get(name):
            words.append(f"{said} is {new[name]:g} {unit} instead of {old[name]:g}")
    if old.get("changed_limits") != new.get("changed_limits") or old.get("disabled_rules") != new.get("disabled_rules"):
        words.append("limits or switched-off rules differ")
    others = [name for name in ("stems", "references") if old.get(name) != new.get(name)]
    return [*words, *(f"this time there are {'' if new.get(name) else 'no '}{name}" for name in others)]
