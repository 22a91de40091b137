"""What references cost in CPU, whole processes, beside one pass of ffmpeg's loudness filter (F) over the same song.

    python -m tests.benchmarks.speed.reference_cost SONG.wav --songs DIR        DIR holds 50 songs or more

Goals: adding a song within 1.5 F; a critique with 50 known references at most 0.2 F more than one without.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

import soundfile

SHELF = 50
ROUNDS = 5


def cpu_s(command: list[str], home: Path) -> float:
    """Run a command and return the CPU seconds of its process."""
    before = os.times()
    environment = {**os.environ, "MIXPROOF_HOME": str(home)}
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment)
    after = os.times()
    return (after.children_user + after.children_system) - (before.children_user + before.children_system)


def main() -> None:
    made = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    made.add_argument("song", type=Path)
    made.add_argument("--songs", type=Path, required=True)
    asked = made.parse_args()
    tool = [sys.executable, "-m", "advisor"]
    ffmpeg = ["ffmpeg", "-hide_banner", "-nostats", "-i", str(asked.song), "-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-"]
    songs = [path for path in sorted(asked.songs.rglob("*")) if path.suffix in {".ogg", ".flac", ".wav", ".mp3"}][:SHELF]
    with tempfile.TemporaryDirectory() as room:
        home = Path(room)
        folder_s = cpu_s([*tool, "references", "add", "shelf", *map(str, songs)], home)
        minutes = sum(soundfile.info(path).duration for path in songs) / 60.0
        quick = [*tool, "critique", str(asked.song), "--quick", "--no-audition", "--out", str(home / "report")]
        rows: list[tuple[float, float, float, float]] = []
        for number in range(ROUNDS):
            unit = cpu_s(ffmpeg, home)
            adding = cpu_s([*tool, "references", "add", "one", str(asked.song)], home / str(number))
            rows.append((unit, adding, cpu_s(quick, home), cpu_s([*quick, "--references", "shelf"], home)))
    unit, adding, without, with_them = (statistics.median(column) for column in zip(*rows, strict=True))
    more = statistics.median(row[3] - row[2] for row in rows)
    song_s = folder_s / minutes * 4.0
    print(f"{len(songs)} songs of {minutes:.0f} minutes: {folder_s:.1f} s; for four minutes {song_s:.2f} s = {song_s / unit:.2f} F")
    print(f"F {unit:.2f} s; adding one song {adding:.2f} s = {adding / unit:.2f} F (goal 1.5)")
    print(f"critique --quick {without:.2f} s, with {len(songs)} references {with_them:.2f} s: {more / unit:+.2f} F (goal 0.2)")


if __name__ == "__main__":
    main()
