"""Opening files: every format reads alike, every refusal says what was seen, why it stops and what to try."""

import hashlib
import os
import re
import shutil
import struct
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import pytest
import soundfile

from features.sound import load
from features.sound.load import FileSource, LoadError, open_source
from features.sound.signal import Samples, Signal
from tests import signals

RATE_HZ = 44100
needs_ffmpeg = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")


@pytest.fixture
def sound() -> Samples:
    return signals.pink(0.7, RATE_HZ, rms_dbfs=-20.0, correlation=0.3)


def written(path: Path, samples: Samples, subtype: str, kind: str | None = None, rate_hz: int = RATE_HZ) -> Path:
    soundfile.write(path, samples.T, rate_hz, subtype, format=kind)
    return path


def refusal(path: Path) -> str:
    with pytest.raises(LoadError) as caught:
        open_source(path)
    message = str(caught.value)
    assert message.endswith((".", "?"))
    assert "\n" not in message
    return message


def through_ffmpeg(source: Path, target: Path, *options: str) -> Path:
    subprocess.run(["ffmpeg", "-nostdin", "-v", "error", "-i", str(source), *options, str(target)], check=True)
    return target


@pytest.mark.parametrize(
    ("name", "subtype", "kind", "bits", "error"),
    [
        ("a.wav", "PCM_U8", "WAV", 8, 2**-7), ("a.wav", "PCM_16", "WAV", 16, 2**-15), ("a.wav", "PCM_24", "WAV", 24, 2**-23),
        ("a.wav", "PCM_32", "WAV", 32, 1e-7), ("a.wav", "FLOAT", "WAV", 32, 0.0), ("a.wav", "DOUBLE", "WAV", 64, 0.0),
        ("a.wav", "PCM_24", "WAVEX", 24, 2**-23), ("a.wav", "PCM_24", "RF64", 24, 2**-23), ("a.w64", "FLOAT", "W64", 32, 0.0),
        ("a.aiff", "PCM_16", "AIFF", 16, 2**-15), ("a.aif", "PCM_24", "AIFF", 24, 2**-23), ("a.flac", "PCM_24", "FLAC", 24, 2**-23),
        ("a.caf", "PCM_24", "CAF", 24, 2**-23),
    ],
)  # fmt: skip
def test_lossless_formats(tmp_path: Path, sound: Samples, name: str, subtype: str, kind: str, bits: int, error: float) -> None:
    path = written(tmp_path / name, sound, subtype, kind)
    with open_source(path) as opened:
        assert (opened.file.subtype, opened.file.bits, opened.file.lossy) == (subtype, bits, False)
        assert (opened.file.rate_hz, opened.file.channels, opened.file.name) == (RATE_HZ, 2, name)
        assert opened.file.duration_s == pytest.approx(0.7, abs=1e-4)
        assert opened.file.absent == ()
        assert opened.notes == ()
        assert isinstance(opened.source, Signal)
        assert opened.source.samples.dtype == np.float32
        np.testing.assert_allclose(opened.source.samples, sound, rtol=0, atol=1.01 * error)


@pytest.mark.parametrize(("name", "subtype", "kind"), [("a.ogg", "VORBIS", "OGG"), ("a.mp3", "MPEG_LAYER_III", "MP3")])
def test_lossy_formats(tmp_path: Path, sound: Samples, name: str, subtype: str, kind: str) -> None:
    with open_source(written(tmp_path / name, sound, subtype, kind)) as opened:
        assert (opened.file.subtype, opened.file.bits, opened.file.lossy) == (subtype, None, True)
        assert [absence.field for absence in opened.file.absent] == ["bits"]
        assert opened.source.frames == pytest.approx(sound.shape[1], abs=2400)
        loudness_change = np.std(opened.source.read(0, sound.shape[1])) / np.std(sound)
        assert loudness_change == pytest.approx(1.0, abs=0.1)


def test_the_hash_is_of_the_bytes(tmp_path: Path, sound: Samples) -> None:
    path = written(tmp_path / "a.wav", sound, "PCM_16")
    with open_source(path) as opened:
        assert opened.file.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize("frames", [1, 2, 100])
def test_very_short_and_mono_files_load(tmp_path: Path, frames: int) -> None:
    with open_source(written(tmp_path / "a.wav", np.full((1, frames), 0.5, np.float32), "FLOAT")) as opened:
        assert (opened.source.channels, opened.source.frames) == (1, frames)


def test_values_above_full_scale_are_kept(tmp_path: Path) -> None:
    samples = np.array([[0.0, 1.5, -4.0], [2.0, 0.0, 15.8]], np.float32)  # up to 24 dB over
    with open_source(written(tmp_path / "a.wav", samples, "FLOAT")) as opened:
        np.testing.assert_array_equal(opened.source.read(0, 3), samples)
        assert opened.not_finite == 0


def test_samples_that_are_no_number_are_zeros_and_counted(tmp_path: Path, sound: Samples) -> None:
    broken = sound.copy()
    broken[0, 10:13] = np.nan
    broken[1, 500] = np.inf
    broken[1, 501] = -np.inf
    broken[0, 700] = 1e30
    with open_source(written(tmp_path / "a.wav", broken, "FLOAT")) as opened:
        read = opened.source.read(0, sound.shape[1])
        assert opened.not_finite == 6
    assert np.all(np.isfinite(read))
    assert np.all(read[0, 10:13] == 0)
    assert read[0, 700] == 0
    np.testing.assert_array_equal(read[:, 1000:], sound[:, 1000:])


# --- long files -------------------------------------------------------------------------------------------------------


@pytest.fixture
def little_memory(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """Let every file count as long; return the folder for temporary files."""
    monkeypatch.setattr(load, "MEMORY_BYTES", 1 << 10)
    place = tmp_path / "temporary"
    place.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    return place


@pytest.mark.parametrize(("name", "subtype"), [("a.wav", "PCM_24"), ("a.flac", "PCM_16"), ("a.ogg", "VORBIS")])
def test_long_files_are_read_in_pieces(little_memory: Path, tmp_path: Path, sound: Samples, name: str, subtype: str) -> None:
    path = written(tmp_path / name, sound, subtype)
    whole = soundfile.read(path, dtype="float32", always_2d=True)[0].T
    with open_source(path) as opened:
        source = opened.source
        assert isinstance(source, FileSource)
        assert list(little_memory.iterdir()) == [], "what is decoded has no name, so a kill leaves nothing"
        assert (source.frames, source.channels, source.rate_hz) == (whole.shape[1], 2, RATE_HZ)
        np.testing.assert_array_equal(np.concatenate(list(source.blocks(1000)), axis=1), whole)
        for start, count in ((5000, 100), (0, 10), (20000, 5), (whole.shape[1] - 3, 100), (whole.shape[1] + 5, 10), (-5, 7)):
            np.testing.assert_array_equal(source.read(start, count), Signal(whole, RATE_HZ).read(start, count))
        assert source.read(0, 10).flags.c_contiguous
    assert list(little_memory.iterdir()) == []


def test_long_files_count_each_broken_sample_once(little_memory: Path, tmp_path: Path, sound: Samples) -> None:
    sound[0, [5, 20000]] = np.nan
    with open_source(written(tmp_path / "a.wav", sound, "FLOAT")) as opened:
        assert not list(little_memory.iterdir())
        for block in opened.source.blocks(1024):
            assert np.all(np.isfinite(block))
        assert np.all(np.isfinite(opened.source.read(0, 30000)))
        assert opened.not_finite == 2


def test_nothing_temporary_stays_behind_after_an_error(little_memory: Path, tmp_path: Path, sound: Samples) -> None:
    path = written(tmp_path / "a.ogg", sound, "VORBIS")

    def crash() -> None:
        with open_source(path) as opened:
            assert opened.source.frames
            raise KeyError("measuring crashed")

    with pytest.raises(KeyError):
        crash()
    assert list(little_memory.iterdir()) == []


# --- damaged files ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "subtype", "kind"),
    [("a.wav", "PCM_16", "WAV"), ("a.wav", "PCM_24", "WAVEX"), ("a.aiff", "PCM_16", "AIFF"), ("a.flac", "PCM_16", "FLAC")],
)
def test_a_cut_file_is_read_as_far_as_it_goes_and_told(tmp_path: Path, name: str, subtype: str, kind: str) -> None:
    samples = signals.pink(4, RATE_HZ)
    path = written(tmp_path / name, samples, subtype, kind)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with open_source(path) as opened:
        assert opened.file.duration_s == pytest.approx(2.0, abs=0.8)
        (note,) = opened.notes
        assert "4.0 s" in note
        assert "only what is there was measured" in note
        frames = opened.source.frames
        np.testing.assert_allclose(opened.source.read(0, frames), samples[:, :frames], rtol=0, atol=2**-15)


def test_a_cut_long_file_is_decoded_as_far_as_it_goes(little_memory: Path, tmp_path: Path) -> None:
    samples = signals.pink(4, RATE_HZ)
    path = written(tmp_path / "a.flac", samples, "PCM_16")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with open_source(path) as opened:
        assert isinstance(opened.source, FileSource)
        assert list(little_memory.iterdir()) == []
        assert "4.0 s" in opened.notes[0]
        frames = opened.source.frames
        assert frames > 0.7 * RATE_HZ
        np.testing.assert_allclose(opened.source.read(0, frames), samples[:, :frames], rtol=0, atol=2**-15)


def test_damage_in_the_middle_is_told(tmp_path: Path) -> None:
    path = written(tmp_path / "a.flac", signals.pink(4, RATE_HZ), "PCM_16")
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 5000] = np.random.default_rng(2).bytes(5000)
    path.write_bytes(data)
    with open_source(path) as opened:
        assert opened.source.frames > 0
        assert "damaged" in opened.notes[0]


def test_a_size_placeholder_is_no_promise(tmp_path: Path, sound: Samples) -> None:
    path = written(tmp_path / "a.wav", sound, "PCM_16")
    data = bytearray(path.read_bytes())
    place = data.index(b"data") + 4
    data[place : place + 4] = b"\xff\xff\xff\xff"
    path.write_bytes(data)
    with open_source(path) as opened:
        assert opened.notes == ()
        assert opened.source.frames == sound.shape[1]


def test_a_file_with_other_chunks_keeps_its_length(tmp_path: Path, sound: Samples) -> None:
    path = written(tmp_path / "a.wav", sound, "PCM_16")
    data = path.read_bytes()
    place = data.index(b"data")
    odd = b"note" + struct.pack("<I", 5) + b"hello\0"
    path.write_bytes(data[:place] + odd + data[place:] + odd)
    with open_source(path) as opened:
        assert opened.notes == ()
        assert opened.source.frames == sound.shape[1]


# --- refusals ---------------------------------------------------------------------------------------------------------


def test_a_missing_file_names_near_ones(tmp_path: Path, sound: Samples) -> None:
    written(tmp_path / "My Song v3.wav", sound, "PCM_16")
    message = refusal(tmp_path / "my song v2.wav")
    assert "no file “my song v2.wav”" in message
    assert "did you mean “My Song v3.wav”?" in message
    assert "check the name" in refusal(tmp_path / "zzzzqqqq.bin")
    assert "no folder" in refusal(tmp_path / "nowhere" / "a.wav")
    assert "no file" in refusal(tmp_path / ("x" * 300))


def test_a_folder(tmp_path: Path) -> None:
    assert "is a folder" in refusal(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names on this system")
def test_a_pipe(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.wav")
    assert "not an ordinary file" in refusal(tmp_path / "a.wav")


def test_a_file_that_may_not_be_read(tmp_path: Path, sound: Samples, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path / "a.wav", sound, "PCM_16")

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)  # taking the rights away does not stop every user
    assert "permissions" in refusal(path)


def test_text_with_the_name_of_a_sound(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_text("#EXTM3U\nother.wav\n")
    assert "holds text" in refusal(path)


def test_an_empty_file_and_one_without_samples(tmp_path: Path) -> None:
    empty = tmp_path / "empty.wav"
    empty.touch()
    assert "0 bytes" in refusal(empty)
    assert "no samples" in refusal(written(tmp_path / "none.wav", np.zeros((2, 0), np.float32), "PCM_16"))


def test_more_than_two_channels(tmp_path: Path) -> None:
    message = refusal(written(tmp_path / "a.wav", np.zeros((6, 100), np.float32), "PCM_16"))
    assert "6 channels" in message
    assert "stereo" in message


@pytest.mark.parametrize("rate_hz", [4000, 384000])
def test_rates_outside_the_range(tmp_path: Path, rate_hz: int) -> None:
    assert f"{rate_hz} Hz" in refusal(written(tmp_path / "a.wav", np.zeros((2, 100), np.float32), "PCM_16", rate_hz=rate_hz))


@pytest.mark.parametrize("rate_hz", [8000, 192000])
def test_rates_at_the_ends_of_the_range(tmp_path: Path, rate_hz: int) -> None:
    with open_source(written(tmp_path / "a.wav", np.zeros((2, 100), np.float32), "PCM_16", rate_hz=rate_hz)) as opened:
        assert opened.source.rate_hz == rate_hz


def test_an_unknown_format_without_ffmpeg(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.m4a"
    path.write_bytes(np.random.default_rng(1).bytes(5000))
    monkeypatch.setattr(shutil, "which", lambda _: None)
    assert "install ffmpeg" in refusal(path)


# --- through ffmpeg ---------------------------------------------------------------------------------------------------


@needs_ffmpeg
def test_noise_bytes_are_refused_and_leave_nothing(tmp_path: Path, little_memory: Path) -> None:
    path = tmp_path / "a.m4a"
    path.write_bytes(np.random.default_rng(1).bytes(5000))
    assert re.search("ffmpeg could not decode|nothing that its name promises", refusal(path))
    assert list(little_memory.iterdir()) == []


@needs_ffmpeg
def test_the_reason_names_the_file_once_and_no_folder(tmp_path: Path) -> None:
    folder = tmp_path / "a folder of the user's with a long name"
    folder.mkdir()
    (folder / "kick.wav").write_bytes(b"RIFF\x00\x00")
    said = refusal(folder / "kick.wav")
    assert said.count("kick.wav") == 1
    assert folder.name not in said


@needs_ffmpeg
def test_a_lossy_file_through_ffmpeg(tmp_path: Path, sound: Samples) -> None:
    source = written(tmp_path / "a.wav", sound, "PCM_16")
    path = through_ffmpeg(source, tmp_path / "-a file:b.m4a", "-c:a", "aac", "-f", "mp4")
    with open_source(path) as opened:
        assert (opened.file.subtype, opened.file.bits, opened.file.lossy) == ("AAC", None, True)
        assert opened.file.rate_hz == RATE_HZ
        assert opened.source.frames == pytest.approx(sound.shape[1], abs=4096)
        assert isinstance(opened.source, Signal)
        loudness_change = np.std(opened.source.samples) / np.std(sound)
        assert loudness_change == pytest.approx(1.0, abs=0.1)


@needs_ffmpeg
def test_a_lossless_file_through_ffmpeg(tmp_path: Path, sound: Samples, little_memory: Path) -> None:
    source = written(tmp_path / "a.wav", sound, "PCM_16")
    path = through_ffmpeg(source, tmp_path / "a.m4a", "-c:a", "alac")
    with open_source(path) as opened:
        assert (opened.file.subtype, opened.file.bits, opened.file.lossy) == ("ALAC", 16, False)
        assert isinstance(opened.source, FileSource)
        np.testing.assert_allclose(opened.source.read(0, sound.shape[1]), sound, rtol=0, atol=2**-15)
    assert list(little_memory.iterdir()) == []


@needs_ffmpeg
@pytest.mark.parametrize(("codec", "subtype"), [("pcm_f32le", "PCM_F32LE"), ("pcm_s32le", "PCM_S32LE")])
def test_extensible_w64_is_not_mistaken_for_integers(tmp_path: Path, sound: Samples, codec: str, subtype: str) -> None:
    source = written(tmp_path / "a.wav", sound, "FLOAT")
    with open_source(through_ffmpeg(source, tmp_path / "a.w64", "-c:a", codec)) as opened:
        assert (opened.file.subtype, opened.file.bits, opened.file.lossy) == (subtype, 32, False)
        np.testing.assert_allclose(opened.source.read(0, sound.shape[1]), sound, rtol=0, atol=1e-7)


@needs_ffmpeg
def test_surround_through_ffmpeg(tmp_path: Path) -> None:
    source = written(tmp_path / "a.wav", np.zeros((6, 4410), np.float32), "PCM_16")
    assert "6 channels" in refusal(through_ffmpeg(source, tmp_path / "a.m4a", "-c:a", "alac"))
