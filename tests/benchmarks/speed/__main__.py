"""What every command costs beside one pass of ffmpeg's loudness filter (F) over the same song, in one table.

usage: python -m tests.benchmarks.speed MIX --stems DIR [--master FILE] [--runs 3] [--rows quick master ...]

MIX is made four minutes long (the song, again and again), and so are its master and its stems. Faults are planted into a copy: a bell of
+6 dB at 300 Hz and one of +5 dB at 3.2 kHz. CPU seconds are those of the whole process, medians of runs in turn with F. Beside them
stands what `costs.csv` holds from before; a row that grew by more than a fifth is marked. `--store` writes the table there.
"""

import argparse
import csv
import os
import statistics
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from tests.benchmarks.plans.planting import bell
from tests.benchmarks.speed.critique_speed import long_song, timed

STORED = Path(__file__).with_name("costs.csv")
MINUTES = 4.0
SLIP = 1.2


@dataclass(frozen=True, slots=True)
class Material:
    """The files that are timed."""

    clean: Path
    faulty: Path
    master: Path
    stems: Path
    stem_mix: Path
    out: Path


@dataclass(frozen=True, slots=True)
class Row:
    """One command with what it is held against, in F (``rules``: seconds)."""

    name: str
    arguments: tuple[str, ...]
    reach: float
    moonshot: float


def rows(material: Material) -> tuple[Row, ...]:
    """Return the commands in the order of the table."""
    clean, faulty, master, stem_mix = (str(file) for file in (material.clean, material.faulty, material.master, material.stem_mix))
    stems, out = ("--stems", str(material.stems)), ("--out", str(material.out))
    return (
        Row("quick", ("critique", faulty, "--quick", *out), 3.0, 2.3),
        Row("whole, clean", ("critique", clean, *out), 4.5, 3.5),
        Row("whole, faults", ("critique", faulty, *out), 10.0, 7.0),
        Row("stems", ("critique", stem_mix, *stems, *out), 13.0, 9.0),
        Row("master", ("master", master, "--mix", clean, *out), 14.0, 8.0),
        Row("compare", ("compare", faulty, clean, *out), 5.0, 3.5),
        Row("reference", ("references", "add", "shelf", clean), 1.1, 0.8),
        Row("rules", ("rules",), 0.15, 0.1),
    )


def lengthened(path: Path, target: Path) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.float64]], int]:
    """Write a song repeated to four minutes, 24 bits, and return it."""
    sound, rate_hz = soundfile.read(path, always_2d=True)
    frames = round(MINUTES * 60 * rate_hz)
    whole = np.tile(sound, (-(-frames // len(sound)), 1))[:frames]
    soundfile.write(target, whole, rate_hz, "PCM_24")
    return whole, rate_hz


def prepare(chosen: argparse.Namespace, place: Path) -> Material:
    """Write what is timed."""
    whole, rate_hz = lengthened(chosen.mix, place / "clean.wav")
    planted = bell(bell(whole, rate_hz, 300.0, 6.0, 1.0), rate_hz, 3200.0, 5.0, 1.0)
    soundfile.write(place / "faulty.wav", planted * (0.7 / np.abs(planted).max()), rate_hz, "PCM_24")
    lengthened(chosen.master or chosen.mix, place / "master.wav")
    stem_mix, stems = long_song(chosen.stems, place, MINUTES) if chosen.stems else (place / "clean.wav", place)
    return Material(place / "clean.wav", place / "faulty.wav", place / "master.wav", stems, stem_mix, place / "out")


def measured(row: Row, material: Material, runs: int) -> tuple[float, float, float]:
    """Return CPU and wall in F (``rules``: seconds), and MiB; runs in turn with ffmpeg."""
    command = [sys.executable, "-m", "advisor", *row.arguments]
    unit = ["ffmpeg", "-hide_banner", "-nostats", "-i", str(material.clean), "-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-"]
    pairs = []
    for _ in range(runs + 1):  # the first compiles what was never compiled
        os.environ["MIXPROOF_HOME"] = tempfile.mkdtemp(dir=material.out.parent)  # the same song on a shelf is not measured twice
        pairs.append((timed(unit), timed(command)))
    del pairs[0]
    if row.name == "rules":
        return statistics.median(own[1] for _, own in pairs), statistics.median(own[0] for _, own in pairs), max(own[2] for _, own in pairs)
    cpu, wall = (statistics.median(own[place] / other[place] for other, own in pairs) for place in (1, 0))
    return cpu, wall, max(own[2] for _, own in pairs)


def before() -> dict[str, float]:
    """Return the stored CPU figures by row."""
    if not STORED.exists():
        return {}
    with STORED.open(encoding="utf-8", newline="") as file:
        return {line["row"]: float(line["cpu"]) for line in csv.DictReader(file)}


def table(chosen: argparse.Namespace, material: Material) -> Iterator[tuple[str, float, float, float]]:
    """Yield each row's name and figures, and print them as they come."""
    stored = before()
    print(f"{'':14} {'CPU':>6} {'wall':>6} {'MiB':>5} {'stored':>7} {'reach':>6} {'moonshot':>8}   (F; rules: s)")
    for row in rows(material):
        if (chosen.rows and row.name not in chosen.rows) or (row.name == "stems" and not chosen.stems):
            continue
        cpu, wall, memory = measured(row, material, chosen.runs)
        slip = "  SLIPPED" if row.name in stored and cpu > SLIP * stored[row.name] else ""
        known = f"{stored[row.name]:7.2f}" if row.name in stored else f"{'':7}"
        print(f"{row.name:14} {cpu:6.2f} {wall:6.2f} {memory:5.0f} {known} {row.reach:6.2f} {row.moonshot:8.2f}{slip}", flush=True)
        yield row.name, cpu, wall, memory


def main() -> None:
    """Print the table, and store it where asked."""
    parser = argparse.ArgumentParser()
    parser.add_argument("mix", type=Path)
    parser.add_argument("--stems", type=Path)
    parser.add_argument("--master", type=Path)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--rows", nargs="+")
    parser.add_argument("--store", action="store_true")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        with ProcessPoolExecutor(1) as pool:  # what is held while writing would count as the commands' memory
            material = pool.submit(prepare, chosen, Path(folder)).result()
        lines = list(table(chosen, material))
    if chosen.store:
        with STORED.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(("row", "cpu", "wall", "mib"))
            writer.writerows((name, f"{cpu:.2f}", f"{wall:.2f}", f"{memory:.0f}") for name, cpu, wall, memory in lines)


if __name__ == "__main__":
    main()
