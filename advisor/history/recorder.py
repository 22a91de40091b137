"""Records a critique in its project.

One transaction, in which the report is written too, so that both say the same.
"""

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path

from advisor.app.errors import RequestError
from advisor.app.finding_key import SetAside
from advisor.app.history_words import counted, shown
from advisor.app.paths import is_there
from advisor.history import store
from advisor.history.elements import compare_elements
from advisor.history.reading import JudgingSettings, asides, judging_settings, key_of
from advisor.history.stored import UnreadableError
from advisor.history.story import tell
from advisor.report_model.findings import ReportedFinding
from advisor.report_model.history import CoursePoint, EarlierBounce, HistorySection
from advisor.report_model.report import Report
from advisor.store.database import FILE_NAME, Database, open_database
from advisor.store.home import home
from advisor.store.writer import Entry, HasEntry
from features.elements.fingerprint import Fingerprint

ALIKE = 0.75  # names of projects that are nearer than this may be a slip of the hand


class Recorder:
    """One project that a critique is recorded in."""

    def __init__(self, name: str, now: Callable[[], datetime], folder: Path | None = None) -> None:
        """Open the database once, to meet its problems early."""
        self.name = store.proper_name(name)
        self.set_asides: tuple[SetAside, ...] = ()
        self.notes: list[str] = []
        self._now, self._folder = now, folder
        self.home = home() if folder is None else folder
        with open_database(folder, now) as opened, opened.reading() as read:
            self._take_note(opened)
            project = store.project_id(read, self.name)
            if project is None:
                self._take_note_of_near([other.name for other in store.projects(read)])
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
    def recording(self, report: Report, aside_now: Sequence[ReportedFinding], prints: Sequence[Fingerprint] = ()) -> Iterator[Report]:
        """Lend the report with its history, and record it.

        All is kept, or nothing; what is made of the report meanwhile may only be shown when this has ended well. ``prints`` are the
        elements' numbers.
        """
        prepared = False
        try:
            with open_database(self._folder, self._now) as opened, opened.writing() as write:
                self._take_note(opened)
                removed = store.clean_up(write, self._now())
                project = store.find_or_make(write, self.name, self._now())
                same = _same(write, project, report)
                section = self._history(write, project, report, aside_now, same, prints)
                whole = replace(report, history=section, notes=(*report.notes, *self.notes, *_removed(removed)))
                yield whole
                prepared = True
                self._keep(write, project, whole, section, same, prints)
        except RequestError as error:
            if prepared:
                raise RequestError(f"This bounce could not be recorded in the history, so its report was not written. {error}") from error
            raise

    def _keep(
        self,
        write: sqlite3.Connection,
        project: int,
        report: Report,
        section: HistorySection,
        same: store.Bounce | None,
        prints: Sequence[Fingerprint],
    ) -> None:
        if same is None:
            store.add(write, project, report, section, prints, self._now())
        elif section.replaces:
            store.replace(write, same, report, section, prints)
        else:
            store.note_repeat(write, same)

    def _history(
        self,
        read: sqlite3.Connection,
        project: int,
        report: Report,
        aside_now: Sequence[ReportedFinding],
        same: store.Bounce | None,
        prints: Sequence[Fingerprint],
    ) -> HistorySection:
        there = store.bounces(read, project)
        damaged = store.damaged_bounces(read, project)
        if damaged:
            self.notes.append(
                f"{counted(damaged, 'bounce', 'bounces')} of this project cannot be read and {'is' if damaged == 1 else 'are'} left out"
            )
        number = same.number if same is not None else store.next_number(read, project)
        past = [bounce for bounce in there if bounce.number < number]
        before = [(bounce, earlier) for bounce in past if (earlier := self._report_of(read, bounce)) is not None]
        old = None if same is None else self._report_of(read, same)
        last = before[-1][0] if before else None
        elements = compare_elements(store.prints_of(read, last), prints, before[-1][1], report) if last is not None else None
        past_reports = [(bounce.number, past_report) for bounce, past_report in before]
        story = tell(report, number, past_reports, self.set_asides, aside_now, elements)
        return HistorySection(
            project=self.name,
            number=number,
            repeat=same is not None,
            replaces=old is not None and _says_more(report, old, aside_now),
            previous=None if last is None else EarlierBounce(last.number, last.file_name, last.recorded),
            same_file_as=next((bounce.number for bounce in past if bounce.sha256 == report.mix.sha256), None),
            settings_changed=() if last is None else changed_settings(store.settings_of(last), judging_settings(report)),
            course=tuple(CoursePoint(bounce.number, bounce.clean_lufs, bounce.margin_lu, bounce.excess) for bounce in past),
            findings=story.findings,
            steps=story.steps,
            readings=story.readings,
            excess=story.excess,
            warnings=story.warnings,
            set_aside=story.set_aside,
            elements=story.elements,
            undone=story.undone,
        )

    def _report_of(self, read: sqlite3.Connection, bounce: store.Bounce) -> Report | None:
        """Return a bounce's report; note one that is unreadable."""
        try:
            return store.report_of(read, bounce)
        except UnreadableError as error:
            self.notes.append(f"{error} It is left out of the comparison")
            return None


def has_bounce(project: Recorder | None) -> HasEntry:
    """Return what asks the history for a report's bounce."""
    folder = home() if project is None else project.home

    def known(entry: Entry) -> bool | None:
        if not is_there(folder / FILE_NAME):
            return False
        try:
            with open_database(folder) as opened, opened.reading() as read:
                return store.has_bounce(read, entry.project, entry.number, entry.sha256)
        except RequestError:
            return None

    return known


@contextmanager
def recorded(
    report: Report, aside_now: Sequence[ReportedFinding], project: Recorder | None, prints: Sequence[Fingerprint] = ()
) -> Iterator[Report]:
    """Lend the report with its history, and record it.

    It is recorded when it is written.

    It is lent as it is where there is no project to record it in.
    """
    if project is None:
        yield report
        return
    with project.recording(report, aside_now, prints) as whole:
        yield whole


def _same(read: sqlite3.Connection, project: int, report: Report) -> store.Bounce | None:
    """Return the bounce with this file and these settings."""
    sha256, settings = report.mix.sha256, store.judged_with(report)
    same = [bounce for bounce in store.bounces(read, project) if sha256 and (bounce.sha256, bounce.settings) == (sha256, settings)]
    return same[-1] if same else None


def _says_more(report: Report, old: Report, aside_now: Sequence[ReportedFinding]) -> bool:
    """Whether a critique measured more, tried more or set aside others."""
    if len(report.failed) != len(old.failed):
        return len(report.failed) < len(old.failed)
    if (report.tried_on is None) != (old.tried_on is None):
        return report.tried_on is not None
    return {key_of(finding) for finding in aside_now} != {key_of(finding) for finding in asides(old)}


def _removed(names: Sequence[str]) -> list[str]:
    if not names:
        return []
    listed = ", ".join(f"'{shown(name, 40)}'" for name in names)
    what = counted(len(names), "project", "projects")
    return [f"{what} deleted more than {store.KEPT_DAYS} days ago {'is' if len(names) == 1 else 'are'} now removed for good: {listed}"]


def changed_settings(old: JudgingSettings, new: JudgingSettings) -> tuple[str, ...]:
    """Return in words which settings differ from the bounce before's.

    >>> changed_settings(JudgingSettings(-13.0, -1.0), JudgingSettings(-11.0, -1.0, stems=True))
    ('the target is -11 LUFS instead of -13', 'this time there are stems')
    """
    words = []
    for then, now, name, unit in (
        (old.target_lufs, new.target_lufs, "the target", "LUFS"),
        (old.ceiling_dbtp, new.ceiling_dbtp, "the ceiling", "dBTP"),
    ):
        if then is not None and then != now:
            words.append(f"{name} is {now:g} {unit} instead of {then:g}")
    if old.changed_limits != new.changed_limits or old.disabled_rules != new.disabled_rules:
        words.append("limits or switched-off rules differ")
    for there_then, there_now, name in ((old.stems, new.stems, "stems"), (old.references, new.references, "references")):
        if there_then != there_now:
            words.append(f"this time there are {'' if there_now else 'no '}{name}")
    return tuple(words)
