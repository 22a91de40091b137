"""Ways to damage a file, a settings file and a database, each from a seed."""

import sqlite3
from collections.abc import Callable, Mapping
from pathlib import Path
from random import Random

import numpy as np
import soundfile

RATE_HZ = 22050
SECONDS = 4.0
FORMATS = (
    ("a.wav", "PCM_16", "WAV"), ("a.wav", "PCM_24", "WAV"), ("a.wav", "FLOAT", "WAV"), ("a.wav", "DOUBLE", "WAV"),
    ("a.w64", "PCM_24", "W64"),
    ("a.aiff", "PCM_16", "AIFF"), ("a.caf", "PCM_24", "CAF"), ("a.au", "PCM_16", "AU"), ("a.flac", "PCM_16", "FLAC"),
    ("a.ogg", "VORBIS", "OGG"), ("a.mp3", "MPEG_LAYER_III", "MP3"),
)  # fmt: skip
MAGICS = (b"RIFF", b"FORM", b"fLaC", b"OggS", b"ID3\x03", b"caff", b".snd", b"#!AMR", b"\0\0\0 ftyp", b"\x1aE\xdf\xa3", b"\xff\xfb", b"")
VALUES: tuple[object, ...] = (
    None, 0, -1, 1, 2**63 - 1, -(2**63), 1e308, -1e308, float("inf"), "", "x", "yesterday", "{}", "[]", "[" * 4000, "NaN", "9" * 500,
    "\0", "\x1b[31m", "../..", b"", b"\xff\xfe", b"\0" * 100,
)  # fmt: skip
TOML_VALUES = (
    "1", "-14", "1e400", "-inf", "nan", "0x7fffffffffffffffff", "9" * 400, "9" * 5000, '"no"', "true", "false", "[]", "[[[1]]]", "{}",
    "{a = 1}",
    '"\\u001b[31m"', "'" + "x" * 5000 + "'", "1979-05-27", "[-14.0, -16.0]", "[" * 2000 + "]" * 2000, '"\\u0000"', "", "=",
)  # fmt: skip
TOML_KEYS = (
    "target_lufs", "ceiling_dbtp", "quick", "audition", "render", "streaming_lufs", "limits", "rules", "disabled", "changes", "x",
    '"\\u0007"',
    'rules."delivery/dc_offset".enabled', 'rules."delivery/dc_offset".offset_dbfs', 'rules."mixing/none".a', "", "a.b.c",
)  # fmt: skip
Mutation = Callable[[bytearray, Random], bytes]


def sounds(folder: Path) -> list[Path]:
    """Write one short song in every format."""
    time = np.arange(int(SECONDS * RATE_HZ)) / RATE_HZ
    noise = np.random.default_rng(1).standard_normal((time.size, 2))
    song = 0.4 * np.sin(2 * np.pi * 55 * time)[:, None] * np.exp(-8 * (time % 0.5))[:, None] + 0.03 * noise
    paths = []
    for number, (name, subtype, kind) in enumerate(FORMATS):
        path = folder / f"{number}-{name}"
        soundfile.write(path, song, RATE_HZ, subtype, format=kind)
        paths.append(path)
    return paths


def _place(whole: bytearray, random: Random) -> int:
    """Return a place, in the header as often as behind it."""
    return random.randrange(min(len(whole), 200) if random.random() < 0.5 else len(whole))


def bits(whole: bytearray, random: Random) -> bytes:
    for _ in range(random.choice((1, 1, 3, 30))):
        whole[_place(whole, random)] ^= 1 << random.randrange(8)
    return bytes(whole)


def noise(whole: bytearray, random: Random) -> bytes:
    start = _place(whole, random)
    count = random.choice((1, 4, 100, 5000))
    whole[start : start + count] = random.randbytes(count)
    return bytes(whole)


def cut(whole: bytearray, random: Random) -> bytes:
    return bytes(whole[: random.randrange(len(whole))])


def missing(whole: bytearray, random: Random) -> bytes:
    start = _place(whole, random)
    del whole[start : start + random.choice((1, 2, 3, 4, 1000))]
    return bytes(whole)


def doubled(whole: bytearray, random: Random) -> bytes:
    start, stop = sorted((random.randrange(len(whole)), random.randrange(len(whole))))
    return bytes(whole[:stop] + whole[start:])


def number(whole: bytearray, random: Random) -> bytes:
    start = random.randrange(min(len(whole), 100))
    whole[start : start + 4] = random.choice((b"\0\0\0\0", b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", b"\xff\xff\xff\x7f", b"\1\0\0\0"))
    return bytes(whole)


def magic(whole: bytearray, random: Random) -> bytes:
    mark = random.choice(MAGICS)
    return mark + bytes(whole[len(mark) :])


def zeros(whole: bytearray, random: Random) -> bytes:
    start = _place(whole, random)
    count = random.choice((4, 100, 10000))
    whole[start : start + count] = bytes(count)
    return bytes(whole)


MUTATIONS: Mapping[str, Mutation] = {
    "bits": bits, "noise": noise, "cut": cut, "missing": missing, "doubled": doubled, "number": number, "magic": magic, "zeros": zeros,
}  # fmt: skip


def settings_text(random: Random) -> bytes:
    """Return a settings file of known and unknown keys with values of any kind, sometimes of any bytes."""
    lines = [f"{random.choice(TOML_KEYS)} = {random.choice(TOML_VALUES)}" for _ in range(random.randint(0, 4))]
    whole = bytearray("\n".join(lines), "utf-8") or bytearray(b"\n")
    if random.random() < 0.3:
        return random.choice(list(MUTATIONS.values()))(whole, random)
    return b"\xef\xbb\xbf" * (random.random() < 0.1) + bytes(whole)


def damage_database(path: Path, random: Random) -> str:
    """Change values in some rows, or bytes of the file; return what was done."""
    if random.random() < 0.3:
        whole = bytearray(path.read_bytes())
        name = random.choice(list(MUTATIONS))
        path.write_bytes(MUTATIONS[name](whole, random))
        return f"file: {name}"
    done = []
    connection = sqlite3.connect(path, isolation_level=None)
    tables = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")]
    for _ in range(random.randint(1, 3)):
        table = random.choice(tables)
        column = random.choice([row[1] for row in connection.execute(f"PRAGMA table_info({table})")])
        value = random.choice(VALUES)
        try:
            connection.execute(f"UPDATE {table} SET {column} = ? WHERE random() % 2 = 0", (value,))  # noqa: S608 - names from the schema
            done.append(f"{table}.{column} = {value!r:.30}")
        except sqlite3.Error:
            continue  # the schema itself refuses it
    connection.close()
    return "; ".join(done)
