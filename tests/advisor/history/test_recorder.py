"""The database under stress: killed, crowded, full, old, new, damaged; and names nobody expects."""

import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from threading import Barrier

import pytest

from advisor.app.errors import RequestError
from advisor.history import recorder as recorder_module
from advisor.history import store
from advisor.report_model.report import Report
from advisor.store import migrations
from advisor.store.database import FILE_NAME, open_database
from tests.advisor.history.bounces import NOON, bounce, found, record, recorder
from tests.crashes import crashing

NAMES = (
    "it's \"quoted\"", "a/b\\c", "../../etc/passwd", "/absolute", "🎛️ песня 曲", "x" * 300,
    "'; DROP TABLE bounces; --", "--delete", ".", "%s{0}",
    "line\nbreak\ttab", "\x1b[31mred\x07",
)  # fmt: skip


def two_findings(number: int) -> Report:
    return bounce(number, ("one", found(1.0)), ("two", found(2.0)))


def whole(folder: Path) -> list[str]:
    """Check that the database is whole and holds no half bounce; return the names of the files it holds."""
    with open_database(folder) as opened, opened.reading() as read:
        assert opened.set_aside is None
        assert read.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert read.execute("PRAGMA foreign_key_check").fetchall() == []
        project = store.project_id(read, "Harbour")
        bounces = [] if project is None else store.bounces(read, project)
        assert [stored.number for stored in bounces] == list(range(1, len(bounces) + 1))
        for stored in bounces:
            report = store.report_of(read, stored)
            assert report.history is not None
            assert report.history.number == stored.number
            findings = read.execute("SELECT count(*) FROM findings WHERE bounce = ?", (stored.id,)).fetchone()[0]
            assert findings == len(report.history.findings) == 2
        return [stored.file_name for stored in bounces]


def test_killed_at_any_step_it_holds_all_that_was_reported_done_and_the_next_run_goes_on(tmp_path: Path) -> None:
    done: list[str] = []
    for number in range(1, 4):
        with crashing(tmp_path / f"killed {number}", recorder_module) as crashes:
            document = record(tmp_path / "home", two_findings(number))
        assert len(crashes.unfinished) > 10
        assert [whole(home) for home in crashes.unfinished] == [done] * len(crashes.unfinished)
        now = [*done, document["mix"]["name"]]
        survivors = [whole(home) for home in crashes.finishing]
        assert all(names in (done, now) for names in survivors)
        assert survivors[-1] == now
        for home in (*crashes.unfinished, *crashes.finishing):
            assert record(home, two_findings(number))["history"]["number"] == number
            assert whole(home) == now
        done = now


def test_ten_at_once_are_all_recorded_and_each_knows_those_before_it(tmp_path: Path) -> None:
    together = Barrier(10)

    def write(number: int) -> None:
        together.wait()
        record(tmp_path / "home", two_findings(number))

    with ThreadPoolExecutor(10) as pool:
        list(pool.map(write, range(1, 11)))
    assert sorted(whole(tmp_path / "home")) == sorted(f"take-{number}.wav" for number in range(1, 11))


def _record_many(folder: Path, first: int, done: list[str] | None = None) -> None:
    for number in range(first, 400):
        document = record(folder, bounce(number, ("one", found(1.0)), ("two", found(1.0))))
        if done is not None:
            done.append(document["mix"]["name"])


@contextmanager
def small_disk(folder: Path) -> Iterator[Path]:
    """Lend a file system of 300 kB; skip where none can be made."""
    folder.mkdir()
    if os.geteuid() != 0 or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=300k", "tmpfs", str(folder)], check=False).returncode != 0:
        pytest.skip("only the super-user makes a small file system")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.mark.skipif(sys.platform != "linux", reason="tmpfs is Linux's")
def test_a_full_disk_gets_one_sentence_and_the_old_bounces_stay_whole(tmp_path: Path) -> None:
    with small_disk(tmp_path / "small") as folder:
        done: list[str] = []
        with pytest.raises(RequestError) as refused:
            _record_many(folder, 1, done)
        assert "disk is full" in str(refused.value)
        assert len(str(refused.value).splitlines()) == 1
        assert len(done) > 1
        for path in folder.glob(f"{FILE_NAME}*"):  # looked at where there is room
            shutil.copy(path, tmp_path / path.name)
        assert whole(tmp_path) == done


def test_no_more_pages_gets_one_sentence_that_says_nothing_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record(tmp_path, bounce(1, ("one", found(1.0)), ("two", found(1.0))))

    def full(folder: Path | None, _now: object) -> object:
        opened = open_database(folder)
        pages = opened._connection.execute("PRAGMA page_count").fetchone()[0]
        opened._connection.execute(f"PRAGMA max_page_count = {pages}")
        return opened

    monkeypatch.setattr(recorder_module, "open_database", full)
    with pytest.raises(RequestError, match=r"could not be recorded in the history, so its report was not written.*disk is full"):
        _record_many(tmp_path, 2)
    monkeypatch.undo()
    assert whole(tmp_path)[0] == "take-1.wav"


def test_a_report_that_cannot_be_written_is_not_recorded(tmp_path: Path) -> None:
    record(tmp_path, bounce(1, ("one", found(1.0)), ("two", found(1.0))))
    with pytest.raises(RequestError, match=r"^no room$"), recorder(tmp_path).recording(bounce(2), ()):
        raise RequestError("no room")
    assert whole(tmp_path) == ["take-1.wav"]


def test_a_database_of_the_version_before_is_brought_up_to_date(tmp_path: Path) -> None:
    old = sqlite3.connect(tmp_path / FILE_NAME)
    old.executescript(migrations.SHELVES)
    old.execute("INSERT INTO shelves (name) VALUES ('kept')")
    old.execute("PRAGMA user_version = 1")
    old.commit()
    old.close()
    record(tmp_path, bounce(1))
    with open_database(tmp_path) as opened, opened.reading() as read:
        assert read.execute("SELECT name FROM shelves").fetchone() == ("kept",)
        assert len(store.projects(read)) == 1


def test_a_newer_one_is_refused_before_the_work_and_left_alone(tmp_path: Path) -> None:
    record(tmp_path, bounce(1))
    newer = sqlite3.connect(tmp_path / FILE_NAME)
    newer.execute("PRAGMA user_version = 99")
    newer.close()
    before = (tmp_path / FILE_NAME).read_bytes()
    with pytest.raises(RequestError, match="newer mixproof"):
        recorder(tmp_path)
    assert (tmp_path / FILE_NAME).read_bytes() == before


def test_a_damaged_one_is_set_aside_unchanged_and_named_in_the_report(tmp_path: Path) -> None:
    damaged = b"somebody's history, broken" * 100
    (tmp_path / FILE_NAME).write_bytes(damaged)
    document = record(tmp_path, bounce(1))
    (moved,) = tmp_path.glob("*.damaged-*")
    assert moved.read_bytes() == damaged
    assert str(moved) in document["notes"][0]
    assert document["history"]["number"] == 1


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
def test_any_name_is_kept_and_found_again_and_makes_no_file(tmp_path: Path, name: str) -> None:
    home = tmp_path / "a" / "b" / "home"
    record(home, bounce(1, ("one", found(1.0)), ("two", found(1.0))), name=name)
    record(home, bounce(2), name=name)
    with open_database(home) as opened, opened.reading() as read:
        assert [project.name for project in store.projects(read)] == [name]
        assert len(store.bounces(read, store.find(read, name))) == 2
    there = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*")}
    assert {file_name for file_name in there if FILE_NAME not in file_name} == {"a", "a/b", "a/b/home"}


@pytest.mark.parametrize(("name", "words"), [("", "empty"), ("  \n", "empty"), ("x" * 1001, "1001 characters"), ("\udcff", "no text")])
def test_names_that_cannot_be_kept_are_refused(tmp_path: Path, name: str, words: str) -> None:
    with pytest.raises(RequestError, match=words):
        recorder(tmp_path, name)


def test_one_name_written_in_two_ways_is_one_project(tmp_path: Path) -> None:
    record(tmp_path, bounce(1), name="Café", now=NOON)
    assert record(tmp_path, bounce(2), name=" Cafe\u0301 ")["history"]["number"] == 2
