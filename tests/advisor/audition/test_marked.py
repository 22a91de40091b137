"""The marked copy: the mix's own samples, and markers that any reader finds where they belong."""

import json
import shutil
import struct
import subprocess
import wave
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.io import wavfile

from advisor.audition import marked
from advisor.audition.marked import bits_for, cues, gain_for, write_marked
from advisor.audition.wav import MOST_BYTES, Cue, Shape, encoded, size, write
from advisor.judging.judge import Card
from features.records.base import Span
from features.sound.load import open_source
from features.sound.signal import Samples, Signal
from tests import records
from tests.advisor.samples import finding, rule_that

RATE_HZ = 44100
MARKS = [Cue(0, "3. The beginning is cut", 22050), Cue(1001, "1. Odd"), Cue(1001, "2. Even one"), Cue(7000, "4. x" + 50 * "y", 999)]


def noise(frames: int, channels: int, bits: int) -> Samples:
    """Return noise on the grid of ``bits``, with both ends of the scale in it."""
    top = 1 << (bits - 1)
    whole = np.random.default_rng(bits).integers(-top, top, size=(channels, frames))
    whole[:, :2] = (-top, top - 1)
    return (whole / top).astype(np.float32)


def chunks(raw: bytes, start: int, end: int) -> Iterator[tuple[bytes, bytes]]:
    """Read chunks by the book, by itself: name, size, content, a pad byte after odd sizes; nothing may be left over."""
    while start < end:
        name, length = raw[start : start + 4], int.from_bytes(raw[start + 4 : start + 8], "little")
        assert start + 8 + length <= end, f"{name!r} reaches past the end"
        yield name, raw[start + 8 : start + 8 + length]
        assert length % 2 == 0 or raw[start + 8 + length] == 0
        start += 8 + length + length % 2
    assert start == end


def markers(path: Path) -> tuple[list[tuple[int, int]], dict[int, str], dict[int, int]]:
    """Return markers as (number, frame), labels and lengths by number, read from the bytes alone."""
    raw = path.read_bytes()
    assert (raw[:4], raw[8:12]) == (b"RIFF", b"WAVE")
    assert int.from_bytes(raw[4:8], "little") == len(raw) - 8
    chunk_by_name = dict(chunks(raw, 12, len(raw)))
    assert list(chunk_by_name)[-3:] == [b"data", b"cue ", b"LIST"]
    (count,) = struct.unpack_from("<I", chunk_by_name[b"cue "])
    assert len(chunk_by_name[b"cue "]) == 4 + 24 * count
    points = []
    for number, position, chunk_name, chunk_start, block_start, offset in struct.iter_unpack("<II4sIII", chunk_by_name[b"cue "][4:]):
        assert (chunk_name, chunk_start, block_start, position) == (b"data", 0, 0, offset)
        points.append((number, offset))
    notes = chunk_by_name[b"LIST"]
    assert notes[:4] == b"adtl"
    labels: dict[int, str] = {}
    lengths: dict[int, int] = {}
    for name, content in chunks(notes, 4, len(notes)):
        number = int.from_bytes(content[:4], "little")
        if name == b"labl":
            assert content[-1] == 0
            labels[number] = content[4:-1].decode("ascii")
        else:
            assert (name, content[8:12]) == (b"ltxt", b"rgn ")
            lengths[number] = int.from_bytes(content[4:8], "little")
    return points, labels, lengths


@pytest.mark.parametrize("bits", [16, 24, 32])
@pytest.mark.parametrize("channels", [1, 2])
def test_markers_are_where_they_belong_and_all_sizes_add_up(tmp_path: Path, bits: int, channels: int) -> None:
    for frames in (8000, 8001):  # mono of 24 bits with an odd number of frames needs a pad byte before the markers
        sound = noise(frames, channels, min(bits, 24))
        write(tmp_path / "m.wav", Shape(RATE_HZ, channels, bits), Signal(sound, RATE_HZ).blocks(777), MARKS)
        assert size(Shape(RATE_HZ, channels, bits), frames, MARKS) == (tmp_path / "m.wav").stat().st_size - 8
        points, labels, lengths = markers(tmp_path / "m.wav")
        assert points == [(1, 0), (2, 1001), (3, 1001), (4, 7000)]
        assert [labels[number] for number in sorted(labels)] == [cue.label for cue in MARKS]
        assert lengths == {1: 22050, 4: 999}
        read, rate = soundfile.read(tmp_path / "m.wav", dtype="float32", always_2d=True)
        assert rate == RATE_HZ
        assert np.array_equal(read.T, sound)


@pytest.mark.parametrize("highest", [1.0, 1.5, 15.8])
def test_nothing_above_full_scale_is_written(tmp_path: Path, highest: float) -> None:
    sound = noise(9000, 2, 24)
    sound *= np.float32(highest) / np.abs(sound).max()
    assert write_marked(tmp_path / "m.wav", Signal(sound, RATE_HZ), MARKS, 32, gain_for(highest))
    read = soundfile.read(tmp_path / "m.wav", dtype="float32", always_2d=True)[0].T
    assert np.abs(read).max() == pytest.approx(1.0, abs=1e-6)
    assert np.abs(read).max() <= 1.0
    np.testing.assert_allclose(read * highest, sound, rtol=1e-5, atol=1e-6)


def test_the_writer_holds_at_full_scale_whatever_it_is_given(tmp_path: Path) -> None:
    write(tmp_path / "m.wav", Shape(RATE_HZ, 1, 32), [np.array([[8.6e9, -3.0, 0.25]], np.float32)])
    assert soundfile.read(tmp_path / "m.wav")[0].tolist() == [1.0, -1.0, 0.25]


@pytest.mark.parametrize(("subtype", "kind"), [("PCM_16", np.int16), ("PCM_24", np.int32), ("FLOAT", np.float32)])
def test_other_readers_find_the_same_samples(tmp_path: Path, subtype: str, kind: type[np.generic]) -> None:
    sound = noise(9000, 2, 16 if subtype == "PCM_16" else 24) * np.float32(0.9 if subtype == "FLOAT" else 1.0)
    soundfile.write(tmp_path / "mix.wav", sound.T, RATE_HZ, subtype=subtype)
    copy = tmp_path / "copy.wav"
    with open_source(tmp_path / "mix.wav") as opened:
        assert write_marked(copy, opened.source, MARKS, bits_for(opened.file, 0.9))
    assert soundfile.info(str(copy)).subtype == subtype
    with pytest.warns(wavfile.WavFileWarning, match="not understood"):  # it skips what is no sound, and says so
        rate, read = wavfile.read(copy)
    mine, original = read, wavfile.read(tmp_path / "mix.wav")[1] if subtype != "FLOAT" else sound.T
    assert (rate, read.dtype) == (RATE_HZ, np.dtype(kind))
    assert np.array_equal(mine, original)
    if subtype != "FLOAT":
        with wave.open(str(copy)) as other, wave.open(str(tmp_path / "mix.wav")) as first:
            assert other.getparams() == first.getparams()
            assert other.readframes(9000) == first.readframes(9000)


@pytest.mark.skipif(shutil.which("ffprobe") is None, reason="ffprobe is not installed")
def test_ffprobe_reads_every_marker_with_its_label(tmp_path: Path) -> None:
    write(tmp_path / "m.wav", Shape(RATE_HZ, 2, 24), [noise(30000, 2, 24)], MARKS)
    command = ["ffprobe", "-v", "warning", "-show_chapters", "-of", "json", str(tmp_path / "m.wav")]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stderr == ""
    chapters = [(chapter["start"], chapter["tags"]["title"]) for chapter in json.loads(done.stdout)["chapters"]]
    assert chapters == [(cue.frame, cue.label) for cue in MARKS]


@pytest.mark.skipif(shutil.which("sox") is None, reason="sox is not installed")
def test_sox_reads_the_length_without_complaint(tmp_path: Path) -> None:
    write(tmp_path / "m.wav", Shape(48000, 2, 24), [noise(30001, 2, 24)], MARKS)
    done = subprocess.run(["sox", "--i", "-s", str(tmp_path / "m.wav")], capture_output=True, text=True, check=True)
    assert (done.stdout.strip(), done.stderr) == ("30001", "")


def card(title: str, *where: Span) -> Card:
    return Card(rule_that(None, "one"), replace(finding(), title=title, where=where))


def test_every_finding_has_its_marker_in_the_order_of_the_song() -> None:
    source = Signal(np.zeros((1, 10 * RATE_HZ), np.float32), RATE_HZ)
    placed = cues(
        [
            card("Too much – “around” 98 Hz", Span(7.577460317460318, 9.0), Span(1.0, 2.0)),
            card("Without a place"),
            card("The end is cut", Span(9.9, 12.0)),
            card("Also at the start", Span(0.0, 0.0)),
            card("Past the end", Span(99.0, 100.0)),
            card("Ein " + 20 * "sehr " + "langer Titel: Größe 🎛", Span(5.0, 5.5)),
        ],
        source,
    )
    assert [cue.frame for cue in placed] == [0, 0, 220500, 334166, 436590, 440999]
    assert [cue.label for cue in placed] == [
        "2. Without a place", "4. Also at the start", "6. Ein sehr sehr sehr sehr sehr sehr sehr sehr sehr sehr...",
        '1. Too much - "around" 98 Hz', "3. The end is cut", "5. Past the end",
    ]  # fmt: skip
    assert [cue.frames for cue in placed] == [0, 0, 22050, round(9.0 * RATE_HZ) - 334166, 441000 - 436590, 1]
    assert all(len(cue.label) <= 60 and cue.label.isascii() for cue in placed)


@pytest.mark.parametrize(
    ("bits", "lossy", "highest", "wanted"),
    [(8, False, 1.0, 16), (16, False, 1.0, 16), (20, False, 1.0, 24), (24, False, 1.0, 24), (32, False, 0.5, 32), (64, False, 0.5, 32),
     (None, False, 0.5, 32), (None, True, 0.9, 24), (None, True, 1.2, 32)],
)  # fmt: skip
def test_the_copy_has_the_bits_that_hold_the_mix(bits: int | None, lossy: bool, highest: float, wanted: int) -> None:
    assert bits_for(replace(records.file(), bits=bits, lossy=lossy), highest) == wanted


def test_eight_bits_are_kept_exactly(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "mix.wav", noise(5000, 1, 8).T, 8000, subtype="PCM_U8")
    with open_source(tmp_path / "mix.wav") as opened:
        write_marked(tmp_path / "copy.wav", opened.source, MARKS, bits_for(opened.file, 1.0))
    first, copy = (soundfile.read(tmp_path / name, dtype="float32")[0] for name in ("mix.wav", "copy.wav"))
    assert np.array_equal(first, copy)


class _Long:
    """A source of any length that may not be read."""

    rate_hz, channels = 48000, 2

    def __init__(self, frames: int) -> None:
        self.frames = frames

    def read(self, start: int, count: int) -> Samples:
        raise AssertionError(f"nothing is to be read, not {count} from {start}")

    def blocks(self, size: int = 1) -> Iterator[Samples]:
        yield self.read(0, size)


def test_what_passes_four_gigabytes_is_left_out(tmp_path: Path) -> None:
    most = (MOST_BYTES - 36 - 4) // 6
    shape = Shape(48000, 2, 24)
    assert size(shape, most, []) <= MOST_BYTES < size(shape, most + 2, [])
    assert size(shape, most, MARKS) > MOST_BYTES
    assert write_marked(tmp_path / "m.wav", _Long(most), MARKS, 24) is False
    assert list(tmp_path.iterdir()) == []


def test_the_copy_is_written_block_by_block(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(marked, "BLOCK_FRAMES", 1000)
    sound, longest = noise(10_500, 2, 16), 0

    class Watched(Signal):
        def read(self, start: int, count: int) -> Samples:
            raise AssertionError(f"the song is passed through once, not read from {start} for {count}")

        def blocks(self, size: int = 1 << 17) -> Iterator[Samples]:
            nonlocal longest
            for block in Signal(self.samples, self.rate_hz).blocks(size):
                longest = max(longest, block.shape[1])
                yield block

    write_marked(tmp_path / "m.wav", Watched(sound, RATE_HZ), MARKS, 16)
    assert longest == 1000
    assert np.array_equal(soundfile.read(tmp_path / "m.wav", dtype="float32")[0].T, sound)


def test_whole_numbers_are_rounded_and_held_at_full_scale() -> None:
    block: NDArray[np.float32] = np.array([[1.5, -1.5, 0.6 / 32768, 0.4 / 32768]], np.float32)
    assert struct.unpack("<4h", encoded(block, 16)) == (32767, -32768, 1, 0)
    assert encoded(block, 24)[:6] == b"\xff\xff\x7f\x00\x00\x80"
