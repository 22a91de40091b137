"""Files that come in: whole or not at all, capped, under names of ours."""

import errno
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import pytest

from advisor.page.uploads import GIB, Caps
from tests.advisor.page.sites import TOKEN, Page, page

SMALL = Caps(file_bytes=100, run_bytes=150, stems=3)
HEADERS = {"x-mixproof-token": TOKEN}


@pytest.fixture
def small(tmp_path: Path) -> Page:
    return page(tmp_path, caps=SMALL)


def files(there: Page) -> list[str]:
    """Return the paths of all files that were taken in."""
    root = there.runs.folder
    paths = [path for path in root.rglob("*") if path.is_file() and path.name != "run.json"]
    return sorted("/".join(path.relative_to(root).parts[1:]) for path in paths)


def receiving(there: Page) -> str:
    return f"/runs/{there.receiving().id}"


def test_a_file_is_kept_byte_for_byte(small: Page) -> None:
    address = receiving(small)
    assert small.put(f"{address}/mix?name=My%20mix.WAV", b"abc" * 30) == 201
    assert files(small) == ["mix/My mix.wav"]
    assert next(small.runs.folder.rglob("*.wav")).read_bytes() == b"abc" * 30


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../../../home/somebody/mix.wav", "mix.wav"),
        ("..%5C..%5Cwindows%5Cmix.wav", "mix.wav"),
        ("%2Fetc%2Fcron.d%2Fmix.wav", "mix.wav"),
        ("..wav", "sound.wav"),
        (".hidden.wav", "hidden.wav"),
        ("CON.wav", "sound.wav"),
        ("a%00b%0A%1B[2J.wav", "a-b-2J.wav"),
        ("%3Cscript%3Ealert(1).flac", "-script-alert(1).flac"),
        ("x" * 300 + ".wav", "x" * 60 + ".wav"),
        ("%F0%A0%80%80" * 90 + ".wav", "\U00020000" * 60 + ".wav"),
    ],
)
def test_a_name_is_never_obeyed(small: Page, name: str, kept: str) -> None:
    assert small.put(f"{receiving(small)}/mix?name={name}", b"sound") == 201
    assert files(small) == [f"mix/{kept}"]


@pytest.mark.parametrize("name", ["song.zip", "page.html", "run.json", "", "wav", "stems.toml.exe"])
def test_what_is_no_sound_by_its_name_is_refused(small: Page, name: str) -> None:
    assert small.put(f"{receiving(small)}/mix?name={name}", b"sound") == 400
    assert files(small) == []


def test_five_gibibytes_are_refused_before_they_are_sent(tmp_path: Path) -> None:
    there = page(tmp_path)
    address = receiving(there)
    headers = {**HEADERS, "content-length": str(5 * GIB)}
    answer = there.client.put(f"{address}/mix?name=mix.wav", content=b"only the beginning", headers=headers)
    assert answer.status_code == 413
    assert files(there) == []


def chunks(count: int) -> Iterator[bytes]:
    for _ in range(count):
        yield b"x" * 20


def test_a_stream_that_does_not_say_its_length_is_stopped_at_the_cap(small: Page) -> None:
    address = receiving(small)
    assert small.client.put(f"{address}/mix?name=mix.wav", content=chunks(5), headers=HEADERS).status_code == 201
    assert small.client.put(f"{address}/mix?name=mix.wav", content=chunks(6), headers=HEADERS).status_code == 413
    assert files(small) == []


def test_all_files_of_a_run_together_are_capped(small: Page) -> None:
    address = receiving(small)
    assert small.put(f"{address}/mix?name=mix.wav", b"x" * 90) == 201
    assert small.put(f"{address}/stems?name=kick.wav", b"x" * 90) == 413
    assert files(small) == ["mix/mix.wav"]


def test_two_hundred_stems_are_refused_past_what_can_be_told_apart(small: Page) -> None:
    address = receiving(small)
    statuses = [small.put(f"{address}/stems?name=stem.wav", b"x") for _ in range(200)]
    assert statuses == [201] * 4 + [400] * 196
    assert files(small) == ["stems/stem 2.wav", "stems/stem 3.wav", "stems/stem 4.wav", "stems/stem.wav"]


def test_a_file_cut_short_is_not_kept(small: Page) -> None:
    headers = {**HEADERS, "content-length": "50"}
    assert small.client.put(f"{receiving(small)}/mix?name=mix.wav", content=b"x" * 30, headers=headers).status_code == 400
    assert files(small) == []


def test_a_full_disk_is_said_and_leaves_nothing(small: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    address, open_file = receiving(small), Path.open

    def full(path: Path, mode: str = "r", *rest: Any, **more: Any) -> IO[Any]:  # noqa: ANN401 - whatever a file is opened with
        if path.name.endswith(".part"):
            raise OSError(errno.ENOSPC, "No space left on device")
        return open_file(path, mode, *rest, **more)

    monkeypatch.setattr(Path, "open", full)
    answer = small.client.put(f"{address}/mix?name=mix.wav", content=b"sound", headers=HEADERS)
    assert answer.status_code == 507
    assert "disk is full" in answer.text
    assert files(small) == []


def test_a_second_mix_takes_the_place_of_the_first(small: Page) -> None:
    address = receiving(small)
    for name in ("first.wav", "second.wav"):
        assert small.put(f"{address}/mix?name={name}", b"sound") == 201
    assert files(small) == ["mix/second.wav"]


@pytest.mark.parametrize("slot", ["report", "first", "earlier", "..", "%2e%2e", "run.json"])
def test_only_the_slots_of_what_was_asked_for_take_files(small: Page, slot: str) -> None:
    assert small.put(f"{receiving(small)}/{slot}?name=mix.wav", b"sound") in (404, 405, 409)
    assert files(small) == []


def test_a_run_in_line_takes_no_more_files(small: Page) -> None:
    run = small.asked()
    assert small.put(f"/runs/{run.id}/mix?name=other.wav", b"sound") == 409
    assert files(small) == ["mix/mix.wav"]
