"""One damaged row costs that row: not the project, not the shelf."""

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from advisor.cli.main import main
from advisor.history import store
from advisor.references import shelf as shelves
from advisor.store.database import FILE_NAME, open_database
from tests.advisor.history.bounces import bounce, found, record
from tests.reference_shelf import song

DAMAGE = (
    "settings = 'garbage'", "settings = '{\"target_lufs\": \"loud\"}'", "settings = x'ff00'", "recorded = 'yesterday'", "recorded = 99",
    "report = 'text'", "report = x'00ff'", "excess = 'much'", "integrated_lufs = 'abc'", "integrated_lufs = 9e999", "number = 'one'",
    "number = -3", "number = 9223372036854775807", "file_name = x'fffe'", "sha256 = CAST(x'fffe' AS TEXT)",
)  # fmt: skip


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("MIXPROOF_HOME", str(tmp_path))
    return tmp_path


def change(home: Path, statement: str, *values: object) -> None:
    with sqlite3.connect(home / FILE_NAME) as connection:
        connection.execute(statement, values)
    connection.close()


def damage_row(home: Path, table: str, damage: str, key: str, value: object) -> None:
    change(home, f"UPDATE {table} SET {damage} WHERE {key} = ?", value)  # noqa: S608 - the test's own words


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_bounce_that_cannot_be_read_blocks_no_project(home: Path, damage: str, capsys: pytest.CaptureFixture[str]) -> None:
    for take in (1, 2):
        record(home, bounce(take, ("one", found(1.0))))
    damage_row(home, "bounces", damage, "number", 1)
    for arguments in (
        ["history"],
        ["history", "Harbour"],
        ["history", "Harbour", "--export", "md"],
        ["history", "Harbour", "--bounce", "2"],
    ):
        assert main(arguments) == 0, capsys.readouterr().err
    assert "take-2.wav" in capsys.readouterr().out
    document = record(home, bounce(3, ("one", found(1.0))))
    assert document["history"]["number"] == 3
    assert document["history"]["previous"]["number"] == 2


@pytest.mark.parametrize("damage", ["excess = 'x'", "title = x'ff'", "since = 'then'", "low_hz = 'low', high_hz = 'high'", "rule = x'ff'"])
def test_a_decision_that_cannot_be_read_is_left_out(home: Path, damage: str) -> None:
    record(home, bounce(1, ("one", found(1.0)), ("two", found(1.0))))
    for rule in ("one", "two"):
        change(home, "INSERT INTO set_asides VALUES (NULL, 1, ?, NULL, NULL, NULL, NULL, 'T', 1.0, 'b', 1, '2030-01-01')", f"mixing/{rule}")
    damage_row(home, "set_asides", damage, "rule", "mixing/one")
    with open_database(home) as opened, opened.reading() as read:
        assert [decision.key.rule for decision in store.set_asides(read, 1)] == ["mixing/two"]


@pytest.mark.parametrize(
    "damage",
    [
        "measured = '{}'", "measured = 'x'", "measured = x'00'", "measured = replace(measured, '-14', 'NaN')",
        "measured = replace(measured, '\"third_octave_hz\":[', '\"third_octave_hz\":[1.0,')",
    ],
)  # fmt: skip
def test_a_song_that_cannot_be_read_costs_that_song(home: Path, damage: str) -> None:
    with open_database(home) as opened:
        for number in (1, 2):
            kept = replace(song(), integrated_lufs=-14.0)
            shelves.keep(opened, home / f"{number}.wav", f"{number:064x}", kept, "rock", (1, 1))
    damage_row(home, "songs", damage, "sha256", f"{1:064x}")
    with open_database(home) as opened:
        shelf = shelves.load(opened, "rock")
        assert [reference.name for reference in shelf.songs] == ["2.wav"]
        assert shelf.to_measure == ("1.wav",)
        assert shelves.known_hashes(opened) == {f"{2:064x}"}, "the other is measured anew"
    assert main(["references", "show", "rock"]) == 0


@pytest.mark.parametrize("model", ["x", "{}", '{"key": "a"}', "[" * 3000])
def test_groups_that_cannot_be_read_are_found_anew(home: Path, model: str) -> None:
    with open_database(home) as opened:
        shelves.keep(opened, home / "1.wav", "1" * 64, song(), "rock", (1, 1))
        shelves.keep_model(opened, "rock", model)
    assert main(["references", "groups", "rock"]) == 0


Spoil = Callable[[bytes], bytes]


@pytest.mark.parametrize("spoil", [lambda whole: whole[: len(whole) // 2], lambda whole: whole[:100] + b"\xff" * (len(whole) - 100)])
def test_a_spoiled_file_is_set_aside_or_refused(home: Path, spoil: Spoil) -> None:
    record(home, bounce(1, ("one", found(1.0))))
    change(home, "PRAGMA wal_checkpoint(TRUNCATE)")
    (home / FILE_NAME).write_bytes(spoil((home / FILE_NAME).read_bytes()))
    assert main(["history"]) in (0, 2)
