"""When a bounce in a watched folder is finished."""

import os
import shutil
from itertools import count
from pathlib import Path

import pytest

from advisor.watching.folder import REST_S, FinishedBounce, WatchedFolder, stems_of

CLOCK = count(start=1)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "bounces"
    made.mkdir()
    return made


def write(path: Path, content: bytes = b"sound") -> Path:
    """Write a file at a time of its own."""
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(content)
    moment = next(CLOCK)
    os.utime(path, (moment, moment))
    return path


def names(bounces: tuple[FinishedBounce, ...]) -> list[str]:
    return [bounce.mix.name for bounce in bounces]


def finished(watched: WatchedFolder, start_s: float) -> list[str]:
    """Return what comes to rest when nothing changes from ``start_s`` on."""
    return names(watched.look(start_s)) + names(watched.look(start_s + REST_S))


def test_what_was_there_is_no_new_bounce(folder: Path) -> None:
    write(folder / "old.wav")
    watched = WatchedFolder(folder)
    write(folder / "new.wav")
    assert watched.known == 1
    assert finished(watched, 0.0) == ["new.wav"]
    assert finished(watched, 100.0) == []


def test_a_file_written_slowly_is_taken_once_it_is_whole(folder: Path) -> None:
    watched = WatchedFolder(folder)
    for second in range(10):
        write(folder / "slow.wav", b"x" * (second + 1))
        assert watched.look(float(second)) == ()
    assert watched.look(9.0 + REST_S - 0.1) == ()
    assert names(watched.look(9.0 + REST_S)) == ["slow.wav"]


def test_an_empty_file_is_waited_for(folder: Path) -> None:
    watched = WatchedFolder(folder)
    write(folder / "begun.wav", b"")
    assert finished(watched, 0.0) == []
    write(folder / "begun.wav", b"sound")
    assert finished(watched, 100.0) == ["begun.wav"]


def test_a_file_renamed_into_place_is_a_bounce_and_a_renamed_bounce_is_none(folder: Path) -> None:
    watched = WatchedFolder(folder)
    write(folder / "mix.wav.tmp")
    assert finished(watched, 0.0) == []
    (folder / "mix.wav.tmp").rename(folder / "mix.wav")
    assert finished(watched, 10.0) == ["mix.wav"]
    (folder / "mix.wav").rename(folder / "mix 2.wav")
    assert finished(watched, 20.0) == []


def test_a_bounce_written_over_is_the_next_one(folder: Path) -> None:
    watched = WatchedFolder(folder)
    write(folder / "mix.wav")
    assert finished(watched, 0.0) == ["mix.wav"]
    write(folder / "mix.wav", b"other sound")
    assert finished(watched, 10.0) == ["mix.wav"]


def test_what_is_deleted_before_it_rests_is_forgotten(folder: Path) -> None:
    watched = WatchedFolder(folder)
    write(folder / "mix.wav")
    assert watched.look(0.0) == ()
    (folder / "mix.wav").unlink()
    assert finished(watched, 10.0) == []


def test_twenty_at_once_come_in_the_order_in_which_they_were_written(folder: Path) -> None:
    watched = WatchedFolder(folder)
    written = [write(folder / f"take {number % 7}-{number}.wav").name for number in range(20)]
    assert finished(watched, 0.0) == written


def test_other_files_reports_and_folders_are_passed_over(folder: Path) -> None:
    watched = WatchedFolder(folder)
    for name in ("notes.txt", ".hidden.wav", "session.zip"):
        write(folder / name)
    write(folder / "mix-critique" / "preview-master.wav")
    (folder / "folder.wav").mkdir()
    assert finished(watched, 0.0) == []


def test_a_folder_that_vanishes_and_comes_back_costs_nothing(folder: Path) -> None:
    watched = WatchedFolder(folder)
    write(folder / "mix.wav")
    assert finished(watched, 0.0) == ["mix.wav"]
    away = folder.rename(folder.with_name("away"))
    assert finished(watched, 10.0) == []
    assert not watched.there
    away.rename(folder)
    assert finished(watched, 20.0) == []
    assert watched.there
    write(folder / "next.wav")
    assert finished(watched, 30.0) == ["next.wav"]
    shutil.rmtree(folder)
    assert finished(watched, 40.0) == []


@pytest.mark.parametrize("name", ["song-stems", "song_stems", "song stems", "stems", "Stems"])
def test_stems_are_found_by_the_name_of_their_folder(folder: Path, name: str) -> None:
    write(folder / name / "kick.wav")
    assert stems_of(folder / "song.wav") == folder / name


def test_stems_of_a_bounces_own_name_come_first_and_those_of_others_never(folder: Path) -> None:
    write(folder / "other-stems" / "kick.wav")
    (folder / "song-stems").mkdir()
    assert stems_of(folder / "song.wav") is None, "a folder without sound"
    write(folder / "stems" / "kick.wav")
    write(folder / "song-stems" / "kick.wav")
    assert stems_of(folder / "song.wav") == folder / "song-stems"


def test_a_bounce_waits_for_its_stems_to_be_written(folder: Path) -> None:
    watched = WatchedFolder(folder)
    write(folder / "song.wav")
    assert watched.look(0.0) == ()
    write(folder / "song-stems" / "kick.wav")
    assert watched.look(REST_S) == ()
    (bounce,) = watched.look(2 * REST_S)
    assert bounce.stems == folder / "song-stems"
