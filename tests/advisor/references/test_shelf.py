"""Shelves: what is kept, found again, renamed, and forgotten."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from advisor.app.errors import RequestError
from advisor.references import records, shelf
from advisor.references.records import Song, from_json, to_json
from advisor.store.database import Database, open_database
from features.records.base import Absence
from features.records.headline import Headline
from tests.reference_shelf import song


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    with open_database(tmp_path / "home") as opened:
        yield opened


def put(database: Database, name: str, sha256: str, path: str, made: Song | None = None) -> bool:
    return shelf.keep(database, Path(path), sha256, made or song(), name, (1, 2))


def test_a_song_comes_back_bit_for_bit() -> None:
    headline = Headline(
        -5.1, 0.1 + 0.2, None, 1 / 3, -30.0, 11.0, 6.0, None, absent=(Absence("ear_share", "why"), Absence("hit_lift_db", "so"))
    )
    made = replace(song(bandwidth_hz=16000.0), headline=headline)
    assert from_json(to_json(made)) == made


def test_songs_come_in_the_order_of_their_content(database: Database) -> None:
    put(database, "techno", "b" * 64, "/one.wav")
    put(database, "techno", "a" * 64, "/two.wav")
    assert [reference.name for reference in shelf.load(database, "techno").songs] == ["two.wav", "one.wav"]
    assert shelf.counts(database) == [("techno", 2)]


def test_the_same_content_is_one_song_whatever_its_name(database: Database) -> None:
    assert put(database, "techno", "a" * 64, "/old.wav")
    assert not put(database, "techno", "a" * 64, "/moved/new.wav")
    references = shelf.load(database, "techno").songs
    assert [(reference.name, reference.path) for reference in references] == [("new.wav", "/moved/new.wav")]


def test_a_shelf_is_found_whatever_the_case_and_never_twice(database: Database) -> None:
    put(database, "Techno", "a" * 64, "/one.wav")
    put(database, "techno", "b" * 64, "/two.wav")
    assert shelf.counts(database) == [("Techno", 2)]
    assert shelf.load(database, "TECHNO").name == "Techno"


@pytest.mark.parametrize(("asked", "hint"), [("tehcno", "Did you mean 'techno'"), ("zzzzzz", "There are: techno")])
def test_an_unknown_shelf_suggests_the_near_name(database: Database, asked: str, hint: str) -> None:
    put(database, "techno", "a" * 64, "/one.wav")
    with pytest.raises(RequestError, match=hint):
        shelf.load(database, asked)


def test_without_any_shelf_the_way_to_one_is_told(database: Database) -> None:
    with pytest.raises(RequestError, match="references add"):
        shelf.load(database, "techno")


@pytest.mark.parametrize("name", ["", "  ", "a:b", "a/b", "a\\b", "a\nb", "x" * 61])
def test_names_that_could_be_mistaken_are_refused(name: str) -> None:
    with pytest.raises(RequestError, match="cannot be called"):
        shelf.check_name(name)


def test_a_name_is_taken_without_the_spaces_around_it() -> None:
    assert shelf.check_name("  my songs ") == "my songs"


def test_a_song_is_found_by_its_name_with_and_without_ending(database: Database) -> None:
    put(database, "techno", "a" * 64, "/Brass.wav")
    loaded = shelf.load(database, "techno")
    assert shelf.find_song(loaded, "brass") == shelf.find_song(loaded, "/elsewhere/BRASS.wav") == ("a" * 64, "Brass.wav")
    with pytest.raises(RequestError, match=r"Did you mean 'Brass.wav'"):
        shelf.find_song(loaded, "bras")


def test_two_songs_of_one_name_are_not_guessed_between(database: Database) -> None:
    put(database, "techno", "a" * 64, "/x/one.wav")
    put(database, "techno", "b" * 64, "/y/one.wav")
    with pytest.raises(RequestError, match="2 songs"):
        shelf.find_song(shelf.load(database, "techno"), "one")


def test_what_another_shelf_holds_stays_when_one_goes(database: Database) -> None:
    put(database, "techno", "a" * 64, "/one.wav")
    put(database, "house", "a" * 64, "/one.wav")
    put(database, "techno", "b" * 64, "/two.wav")
    shelf.remove_shelf(database, "techno")
    assert shelf.counts(database) == [("house", 1)]
    assert shelf.known_song(database, "a" * 64) is not None
    assert shelf.known_song(database, "b" * 64) is None
    shelf.remove_song(database, "house", "a" * 64)
    assert shelf.known_song(database, "a" * 64) is None
    assert shelf.load(database, "house").songs == ()


def test_songs_of_an_older_measuring_are_named_and_not_used(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    put(database, "techno", "a" * 64, "/old.wav")
    monkeypatch.setattr(shelf, "MEASURED_BY", records.MEASURED_BY + 1)
    put(database, "techno", "b" * 64, "/new.wav")
    loaded = shelf.load(database, "techno")
    assert ([reference.name for reference in loaded.songs], loaded.to_measure) == (["new.wav"], ("old.wav",))
    assert shelf.known_hashes(database) == frozenset({"b" * 64})


def test_a_changed_file_is_not_taken_for_the_one_seen(database: Database, tmp_path: Path) -> None:
    path = tmp_path / "one.wav"
    path.write_bytes(b"12345")
    state = path.stat()
    shelf.keep(database, path, "a" * 64, song(), None, (state.st_size, state.st_mtime_ns))
    assert shelf.seen_hash(database, path) == "a" * 64
    path.write_bytes(b"123456")
    assert shelf.seen_hash(database, path) is None
