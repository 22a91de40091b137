"""Adding songs: once, again, interrupted, killed, twice at a time, with broken files among them."""

import shutil
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path
from threading import Barrier
from typing import Any

import numpy as np
import pytest
import soundfile

from advisor.app.errors import RequestError
from advisor.app.progress import Quiet
from advisor.cli.main import main
from advisor.references import adding, shelf
from advisor.references.adding import Added, add, sound_files
from advisor.references.measuring import content_hash, measure_song
from advisor.references.records import Song
from advisor.store import database as database_module
from advisor.store.database import FILE_NAME, Database, open_database
from features.records.headline import FEATURES
from tests.crashes import crashing
from tests.reference_shelf import write_song


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    with open_database(tmp_path / "home") as opened:
        yield opened


@pytest.fixture(scope="session")
def songs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("songs")
    for seed in range(6):
        write_song(folder / ("deeper" if seed % 2 else ".") / f"song {seed}.wav", seed)
    return folder


@cache
def measured(songs: Path) -> dict[str, Song]:
    return {content_hash(path): measure_song(path) for path in songs.rglob("*.wav")}


@pytest.fixture
def measured_before(songs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Measure the songs once for all tests; whatever else is added is measured when it is."""

    def measure(path: Path, advance: Callable[[float], None]) -> Song:
        return measured(songs).get(content_hash(path)) or measure_song(path, advance)

    measured(songs)
    monkeypatch.setattr(adding, "measure_song", measure)


def on_shelf(home: Path, name: str = "techno") -> int:
    with open_database(home) as opened:
        return dict(shelf.counts(opened)).get(name, 0)


def test_a_folder_is_added_once_and_is_there_at_once_the_next_time(
    database: Database, songs: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = add(database, "techno", [songs], Quiet())
    assert (len(first.new), first.there, first.skipped, first.stopped, first.left) == (6, [], [], False, 0)
    monkeypatch.setattr(adding, "measure_song", lambda *_: pytest.fail("a known song was measured again"))
    again = add(database, "techno", [songs], Quiet())
    assert (again.new, len(again.there)) == ([], 6)
    assert {reference.sha256 for reference in again.songs} == {content_hash(path) for path in songs.rglob("*.wav")}


def test_a_copy_under_another_name_is_known_by_its_content(
    database: Database, songs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add(database, "techno", [songs / "song 0.wav"], Quiet())
    copy = tmp_path / "copy.wav"
    shutil.copy(songs / "song 0.wav", copy)
    monkeypatch.setattr(adding, "measure_song", lambda *_: pytest.fail("a known song was measured again"))
    assert add(database, "house", [copy], Quiet()).new == ["copy.wav"]


@pytest.mark.usefixtures("measured_before")
def test_broken_files_are_skipped_and_named_with_their_reason(database: Database, songs: Path, tmp_path: Path) -> None:
    folder = tmp_path / "mixed"
    shutil.copytree(songs, folder)
    (folder / "noise.wav").write_bytes(np.random.default_rng(1).bytes(9000))
    (folder / "empty.flac").write_bytes(b"")
    soundfile.write(folder / "short.wav", np.full((44100, 2), 0.1), 44100)
    soundfile.write(folder / "silent.wav", np.zeros((44100 * 12, 2)), 44100)
    (folder / "cover.jpg").write_bytes(b"no sound file, so nothing is said")
    added = add(database, "techno", [folder], Quiet())
    assert len(added.new) == 6
    assert {name for name, _ in added.skipped} == {"noise.wav", "empty.flac", "short.wav", "silent.wav"}
    reasons = dict(added.skipped)
    assert "1.0 s" in reasons["short.wav"]
    assert "silence" in reasons["silent.wav"]
    assert all(reasons.values())


def test_a_crash_of_one_song_is_one_line(database: Database, songs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def measured(path: Path, advance: object) -> object:
        if path.name == "song 2.wav":
            raise ZeroDivisionError("what")
        return measure_song(path, advance)  # type: ignore[arg-type]

    monkeypatch.setattr(adding, "measure_song", measured)
    added = add(database, "techno", [songs], Quiet())
    assert added.skipped == [("song 2.wav", "it could not be measured (ZeroDivisionError: what)")]
    assert len(added.new) == 5


def test_what_is_not_there_is_refused_before_anything_is_measured(songs: Path, tmp_path: Path) -> None:
    with pytest.raises(RequestError, match="no file or folder"):
        sound_files([songs, tmp_path / "nowhere"])
    with pytest.raises(RequestError, match="no sound files"):
        sound_files([tmp_path])


def test_files_come_sorted_and_once_and_hidden_ones_are_left(songs: Path, tmp_path: Path) -> None:
    folder = tmp_path / "some"
    shutil.copytree(songs, folder)
    shutil.copy(songs / "song 0.wav", folder / "._song 0.wav")
    paths = sound_files([folder, folder / "song 0.wav"])
    assert len(paths) == 6
    assert paths == sorted(paths)


@pytest.mark.usefixtures("measured_before")
def test_the_sound_is_not_kept(database: Database, songs: Path) -> None:
    add(database, "techno", [songs], Quiet())
    home = database.path.parent
    assert {path.name.split("-")[0] for path in home.iterdir()} == {FILE_NAME}
    assert sum(path.stat().st_size for path in home.iterdir()) < 400_000  # of 6 songs of 3 MB


def test_everything_a_headline_holds_is_measured(songs: Path) -> None:
    song = measure_song(songs / "song 0.wav")
    assert all(getattr(song.headline, feature.name) is not None for feature in FEATURES)
    assert song.percussive_share is not None
    assert len(song.third_octave_hz) == len(song.third_octave_db) == 31


def whole(home: Path) -> set[str]:
    """Check that the database is whole; return the hashes of the songs on the shelf."""
    with open_database(home) as opened, opened.reading() as read:
        assert opened.set_aside is None
        assert read.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert read.execute("SELECT count(*) FROM shelf_songs").fetchone() == read.execute("SELECT count(*) FROM songs").fetchone()
        return {row[0] for row in read.execute("SELECT sha256 FROM shelf_songs")}


@pytest.mark.usefixtures("measured_before")
def test_a_stopped_add_keeps_what_is_done_and_goes_on_from_there(
    songs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    home, really, count = tmp_path / "home", shelf.keep, 0

    def keep_and_interrupt(*given: Any) -> bool:  # noqa: ANN401
        nonlocal count
        count += 1
        if count == 2:
            signal.raise_signal(signal.SIGINT)
        return really(*given)

    monkeypatch.setenv("MIXPROOF_HOME", str(home))
    with monkeypatch.context() as interrupted:
        interrupted.setattr(shelf, "keep", keep_and_interrupt)
        assert main(["references", "add", "techno", str(songs)]) == 130
    done = len(whole(home))
    assert done in (2, 3)  # two songs are measured at once, so one more may be ready when it is stopped
    assert f"Stopped with {6 - done} to go" in capsys.readouterr().out
    with open_database(home) as opened:
        again = add(opened, "techno", [songs], Quiet())
    assert (len(again.new), len(again.there)) == (6 - done, done)
    assert len(whole(home)) == 6


@pytest.mark.usefixtures("measured_before")
def test_an_add_that_is_killed_at_any_step_keeps_whole_songs_and_goes_on_from_there(songs: Path, tmp_path: Path) -> None:
    with crashing(tmp_path / "killed", database_module) as crashes, database_module.open_database(tmp_path / "home") as opened:
        add(opened, "techno", [songs], Quiet())
    shelves = [whole(home) for home in (*crashes.unfinished, *crashes.finishing)]
    assert {len(songs_there) for songs_there in shelves} == set(range(7))
    for home, before in list(zip(crashes.unfinished, shelves, strict=False))[::5]:
        with open_database(home) as opened:
            again = add(opened, "techno", [songs], Quiet())
        assert (len(again.new), len(again.there)) == (6 - len(before), len(before))
        assert before <= whole(home)


@pytest.mark.usefixtures("measured_before")
def test_three_adds_at_once_corrupt_nothing(songs: Path, tmp_path: Path) -> None:
    home, together = tmp_path / "home", Barrier(3)

    def put(name: str) -> Added:
        together.wait()
        with open_database(home) as opened:
            return add(opened, name, [songs], Quiet())

    with ThreadPoolExecutor(3) as pool:
        for added in pool.map(put, ("techno", "techno", "house")):
            assert len(added.new) + len(added.there) == 6  # new here, or put there by the other run
    assert (on_shelf(home), on_shelf(home, "house")) == (6, 6)
    with open_database(home) as opened, opened.reading() as read:
        assert read.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert read.execute("SELECT count(*) FROM songs").fetchone() == (6,)
