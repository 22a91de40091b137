"""The database: what it keeps through crashes, older files, newer files, damaged files and full disks."""

import os
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from advisor.app.errors import RequestError
from advisor.store import database, migrations
from advisor.store.database import FILE_NAME, Database, open_database
from advisor.store.home import VARIABLE, home

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
    add_shelf(tmp_path, "before")
    code = (
        "import os, sys; from pathlib import Path; from advisor.store.database import open_database\n"
        "opened = open_database(Path(sys.argv[1]))\n"
        "with opened.writing() as write:\n"
        "    write.executemany('INSERT INTO shelves (name) VALUES (?)', [(str(n),) for n in range(5000)])\n"
        "    os.kill(os.getpid(), 9)\n"
    )
    subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False, env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)})
    assert shelves(tmp_path) == ["before"]
    with open_database(tmp_path) as opened, opened.reading() as read:
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
    code = (
        "import sys; from pathlib import Path; from advisor.store.database import open_database\n"
        "with open_database(Path(sys.argv[1])) as opened, opened.writing() as write:\n"
        "    write.execute('INSERT INTO shelves (name) VALUES (?)', (sys.argv[2],))\n"
    )
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    runs = [subprocess.Popen([sys.executable, "-c", code, str(tmp_path), f"run {n}"], env=environment) for n in range(6)]
    assert [one.wait(60) for one in runs] == [0] * 6
    assert shelves(tmp_path) == [f"run {n}" for n in range(6)]
