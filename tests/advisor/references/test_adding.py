"""Adding songs: once, again, interrupted, killed, twice at a time, with broken files among them."""

import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import soundfile

from advisor.app.errors import RequestError
from advisor.app.progress import Quiet
from advisor.references import adding, shelf
from advisor.references.adding import add, sound_files
from advisor.references.measuring import content_hash, measure_song
from advisor.store.database import FILE_NAME, Database, open_database
from features.records.headline import FEATURES
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


def command(home: Path, *arguments: str) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-m", "advisor", "references", *arguments],
        env={**os.environ, "MIXPROOF_HOME": str(home), "PYTHONPATH": os.pathsep.join(sys.path)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def on_shelf(home: Path, name: str = "techno") -> int:
    """Count without waiting for a run that has not made the file yet."""
    if not (home / FILE_NAME).exists():
        return 0
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
    assert {one.sha256 for one in again.songs} == {content_hash(path) for path in songs.rglob("*.wav")}


def test_a_copy_under_another_name_is_known_by_its_content(
    database: Database, songs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add(database, "techno", [songs / "song 0.wav"], Quiet())
    copy = tmp_path / "copy.wav"
    shutil.copy(songs / "song 0.wav", copy)
    monkeypatch.setattr(adding, "measure_song", lambda *_: pytest.fail("a known song was measured again"))
    assert add(database, "house", [copy], Quiet()).new == ["copy.wav"]


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
    found = sound_files([folder, folder / "song 0.wav"])
    assert len(found) == 6
    assert found == sorted(found)


def test_the_sound_is_not_kept(database: Database, songs: Path) -> None:
    add(database, "techno", [songs], Quiet())
    home = database.path.parent
    assert {path.name.split("-")[0] for path in home.iterdir()} == {FILE_NAME}
    assert sum(path.stat().st_size for path in home.iterdir()) < 400_000  # of 6 songs of 3 MB


def test_everything_a_headline_holds_is_measured(songs: Path) -> None:
    found = measure_song(songs / "song 0.wav")
    assert all(getattr(found.headline, each.name) is not None for each in FEATURES)
    assert found.percussive_share is not None
    assert len(found.third_octave_hz) == len(found.third_octave_db) == 31


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_stopped_add_keeps_what_is_done_and_goes_on_from_there(tmp_path: Path, how: signal.Signals) -> None:
    folder, home = tmp_path / "many", tmp_path / "home"
    for seed in range(10):
        write_song(folder / f"{seed:02d}.wav", seed, duration_s=20.0)
    run = command(home, "add", "techno", str(folder))
    started = time.monotonic()
    while on_shelf(home) < 2 and run.poll() is None and time.monotonic() - started < 120:
        time.sleep(0.02)
    os.killpg(run.pid, how)
    said, _ = run.communicate(timeout=120)
    done = on_shelf(home)
    assert 2 <= done < 10
    if how == signal.SIGINT:
        assert run.returncode == 130
        assert f"Stopped with {10 - done} to go" in said
    with open_database(home) as opened:
        kept = {one.sha256 for one in shelf.load(opened, "techno").songs}
        again = add(opened, "techno", [folder], Quiet())
        assert (len(again.new), len(again.there)) == (10 - done, done)
        assert kept <= {one.sha256 for one in shelf.load(opened, "techno").songs}
    with closing(sqlite3.connect(home / FILE_NAME)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_two_adds_at_once_corrupt_nothing(tmp_path: Path, songs: Path) -> None:
    home = tmp_path / "home"
    runs = [command(home, "add", name, str(songs)) for name in ("techno", "techno", "house")]
    for run in runs:
        said, complained = run.communicate(timeout=180)
        assert run.returncode == 0, complained
        assert sum(int(each) for each in re.findall(r"\d+", said)) == 6  # new here, or put there by the other run
    assert (on_shelf(home), on_shelf(home, "house")) == (6, 6)
    with closing(sqlite3.connect(home / FILE_NAME)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("SELECT count(*) FROM songs").fetchone() == (6,)
