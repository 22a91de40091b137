"""What may not come in: other things than files, sound that no music reaches, and what a decoder only guesses at."""

import os
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from features.sound.load import LoadError, open_source
from tests import signals

RATE_HZ = 44100
needs_ffmpeg = pytest.mark.skipif(shutil.which("ffprobe") is None, reason="ffprobe is not installed")


def float_file(path: Path, subtype: str = "FLOAT", gain: float = 1.0) -> Path:
    soundfile.write(path, signals.pink(1.0, RATE_HZ, rms_dbfs=-20.0).T * gain, RATE_HZ, subtype)
    return path


@pytest.mark.parametrize("memory_bytes", [None, 0])
def test_a_float_file_with_two_bytes_missing_is_refused(tmp_path: Path, memory_bytes: int | None) -> None:
    path = float_file(tmp_path / "a.wav")
    whole = path.read_bytes()
    path.write_bytes(whole[:40000] + whole[40002:])

    def read_whole() -> None:
        with open_source(path, memory_bytes=memory_bytes) as opened:
            for _ in opened.source.blocks(4096):
                pass

    with pytest.raises(LoadError, match="24 dB over full scale"):
        read_whole()


def test_float_in_the_scale_of_whole_numbers_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LoadError, match="another scale"):
        open_source(float_file(tmp_path / "a.wav", gain=32768.0))


def test_no_sample_that_is_read_passes_the_loudest_music(tmp_path: Path) -> None:
    samples = signals.pink(1.0, RATE_HZ)
    samples[0, 100:103] = (1e3, -1e9, 3e38)
    soundfile.write(tmp_path / "a.wav", samples.T, RATE_HZ, "FLOAT")
    with open_source(tmp_path / "a.wav") as opened:
        assert np.abs(opened.source.read(0, RATE_HZ)).max() < 1.0
        assert opened.not_finite == 3


@needs_ffmpeg
def test_a_damaged_file_is_not_taken_for_speech(tmp_path: Path) -> None:
    path = float_file(tmp_path / "a.wav", "DOUBLE")
    whole = bytearray(path.read_bytes())
    whole[0] ^= 1
    path.write_bytes(whole)
    with pytest.raises(LoadError, match="nothing that its name promises"):
        open_source(path)


def test_a_name_that_is_no_text_is_kept_as_text(tmp_path: Path) -> None:
    if os.name != "posix":  # other systems know no such names
        return
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9.wav"))
    float_file(tmp_path / "a.wav").rename(path)
    with open_source(path) as opened:
        assert opened.file.name == "caf?.wav"


@pytest.mark.parametrize("path", [".", "", "/"])
def test_a_path_without_a_name_is_a_folder(path: str) -> None:
    with pytest.raises(LoadError, match="is a folder"):
        open_source(path)


def test_links_that_go_round_and_names_no_disk_holds(tmp_path: Path) -> None:
    (tmp_path / "round.wav").symlink_to(tmp_path / "round.wav")
    with pytest.raises(LoadError, match="leads back to itself"):
        open_source(tmp_path / "round.wav")
    for name in ("x" * 300, "a\0b.wav"):
        with pytest.raises(LoadError, match="There is no file"):
            open_source(tmp_path / name)


def test_devices_are_refused() -> None:
    with pytest.raises(LoadError, match="not an ordinary file"):
        open_source("/dev/zero" if os.path.exists("/dev/zero") else os.devnull)  # noqa: PTH110 - a path as a user types it


def test_a_song_of_days_is_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.flac", np.zeros(8000, np.int16), 8000)
    raw = bytearray((tmp_path / "a.flac").read_bytes())
    raw[21:26] = bytes([raw[21] | 0x0F, 0xFF, 0xFF, 0xFF, 0xFF])  # the count of samples in STREAMINFO
    (tmp_path / "a.flac").write_bytes(raw)
    with pytest.raises(LoadError, match="hours"):
        open_source(tmp_path / "a.flac")
