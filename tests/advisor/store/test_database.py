"""The database: what it keeps through crashes, older files, newer files, damaged files and full disks."""

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from threading import Barrier

import pytest

from advisor.app.errors import RequestError
from advisor.store import database, migrations
from advisor.store.database import FILE_NAME, Database, open_database
from advisor.store.home import VARIABLE, home
from tests.crashes import LOG, crashing

NOON = datetime(2030, 1, 2, 12, 0, 0, tzinfo=UTC)


def shelves(folder: Path) -> list[str]:
    with open_database(folder) as opened, opened.reading() as read:
        return [row[0] for row in read.execute("SELECT name FROM shelves ORDER BY name")]


def add_shelf(folder: Path, name: str) -> None:
    with open_database(folder) as opened, opened.writing() as write:
        write.execute("INSERT INTO shelves (name) VALUES (?)", (name,))


def test_home_follows_the_variable(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "mine"))
    assert home() == tmp_path / "mine"
    monkeypatch.delenv(VARIABLE)
    assert home().name == "mixproof"


def test_what_was_written_is_there_in_the_next_run(tmp_path: Path) -> None:
    add_shelf(tmp_path / "new" / "folder", "techno")
    assert shelves(tmp_path / "new" / "folder") == ["techno"]


def test_a_failed_transaction_leaves_nothing(tmp_path: Path) -> None:
    def half(opened: Database) -> None:
        with opened.writing() as write:
            write.execute("INSERT INTO shelves (name) VALUES ('half')")
            raise ZeroDivisionError

    with open_database(tmp_path) as opened:
        with pytest.raises(ZeroDivisionError):
            half(opened)
        with opened.reading() as read:
            assert read.execute("SELECT count(*) FROM shelves").fetchone() == (0,)


def test_it_keeps_a_log_and_foreign_keys(tmp_path: Path) -> None:
    with open_database(tmp_path) as opened:
        with opened.reading() as read:
            assert read.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        with pytest.raises(RequestError), opened.writing() as write:
            write.execute("INSERT INTO shelf_songs VALUES (99, 'hash', 'name', 'path')")


def test_a_killed_writer_leaves_the_old_data_whole(tmp_path: Path) -> None:
    home, names = tmp_path / "home", [f"{number:02d}" * 500 for number in range(40)]
    add_shelf(home, "before")
    with crashing(tmp_path / "killed", database) as crashes, database.open_database(home) as opened, opened.writing() as write:
        write.executemany("INSERT INTO shelves (name) VALUES (?)", [(name,) for name in names])
    assert (crashes.unfinished[-1] / LOG).stat().st_size > 10_000, "a kill would find nothing half written"
    assert all(shelves(copy) == ["before"] for copy in crashes.unfinished)
    copies = [shelves(copy) for copy in crashes.finishing]
    assert all(names_in_copy in (["before"], sorted(["before", *names])) for names_in_copy in copies)
    assert len(copies[-1]) == 1 + len(names)
    for copy in (*crashes.unfinished, *crashes.finishing):
        with open_database(copy) as opened, opened.reading() as read:
            assert read.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_an_older_file_is_brought_up_to_date(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    add_shelf(tmp_path, "kept")
    monkeypatch.setattr(database, "STEPS", (*migrations.STEPS, "CREATE TABLE later (id INTEGER); INSERT INTO later VALUES (7)"))
    with open_database(tmp_path) as opened, opened.reading() as read:
        assert read.execute("SELECT id FROM later").fetchone() == (7,)
        assert read.execute("PRAGMA user_version").fetchone() == (len(migrations.STEPS) + 1,)
    assert shelves(tmp_path) == ["kept"]


def test_a_step_that_fails_leaves_the_older_file_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    add_shelf(tmp_path, "kept")
    with monkeypatch.context() as patched:
        patched.setattr(database, "STEPS", (*migrations.STEPS, "CREATE TABLE later (id INTEGER); INSERT INTO nowhere VALUES (7)"))
        with pytest.raises(RequestError):
            open_database(tmp_path)
    assert shelves(tmp_path) == ["kept"]


def test_a_newer_file_is_refused_and_left_alone(tmp_path: Path) -> None:
    add_shelf(tmp_path, "kept")
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        connection.execute("PRAGMA user_version = 999")
    connection.close()
    with pytest.raises(RequestError, match="newer mixproof has written"):
        open_database(tmp_path)
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        assert connection.execute("SELECT name FROM shelves").fetchone() == ("kept",)
    connection.close()


def test_a_damaged_file_is_set_aside_and_named(tmp_path: Path) -> None:
    for number in (1, 2):
        (tmp_path / FILE_NAME).write_bytes(b"this is not a database, but somebody may want it back %d" % number * 200)
        with open_database(tmp_path, lambda: NOON) as opened:
            moved = opened.set_aside
            assert moved is not None
            assert moved.read_bytes().startswith(b"this is not a database, but somebody may want it back %d" % number)
        (tmp_path / FILE_NAME).unlink()
    assert len(list(tmp_path.glob("*.damaged-2030-01-02-120000*"))) == 2


def test_a_folder_that_is_a_file_gets_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(RequestError, match="cannot be made"):
        open_database(tmp_path / "file")


def test_a_full_disk_gets_one_sentence_and_the_old_data_stay(tmp_path: Path) -> None:
    add_shelf(tmp_path, "before")
    with open_database(tmp_path) as opened:
        with opened.reading() as read:
            pages = read.execute("PRAGMA page_count").fetchone()[0]
        opened._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(RequestError, match="disk is full"), opened.writing() as write:
            write.executemany("INSERT INTO shelves (name) VALUES (?)", [(f"{n}" * 100,) for n in range(500)])
    assert shelves(tmp_path) == ["before"]


def test_many_runs_at_once_all_get_in(tmp_path: Path) -> None:
    together = Barrier(6)

    def add(name: str) -> None:
        together.wait()
        add_shelf(tmp_path, name)

    names = [f"run {number}" for number in range(6)]
    with ThreadPoolExecutor(6) as pool:
        list(pool.map(add, names))
    assert shelves(tmp_path) == names


def test_a_file_that_another_run_is_making_is_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    other = sqlite3.connect(tmp_path / FILE_NAME, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    monkeypatch.setattr(database, "WAIT_S", 0.0)  # SQLite refuses at once, as it does where two switch together
    monkeypatch.setattr(database, "sleep", lambda _seconds: None)
    with pytest.raises(RequestError, match="another run"):
        open_database(tmp_path)
    monkeypatch.setattr(database, "sleep", lambda _seconds: other.execute("ROLLBACK"))
    assert shelves(tmp_path) == []
    other.close()
