"""Critiques that record, killed at random moments, and ten at once: what the database holds afterwards.

python -m tests.benchmarks.history.history_crashes --song FILE [--kills 50] [--at-once 10]

Takes 12 s of FILE. Each run is a real `mixproof critique --quick --project`, of a file of its own (one sample differs). A run counts as
reported done when it says so on stdout. Afterwards the database must open, pass `PRAGMA integrity_check`, hold every bounce that was
reported done, and no half bounce. Ends with status 1 where it does not.
"""

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from advisor.history import store
from advisor.store.database import open_database

PROJECT = "Crashes"
SECONDS = 12
DONE = "The report:"


def take(sound: NDArray[np.float32], rate_hz: int, number: int, folder: Path) -> Path:
    """Write a bounce that differs from the others in one sample."""
    changed = sound.copy()
    changed[number, 0] += np.float32(1e-4)
    path = folder / f"take-{number}.wav"
    soundfile.write(path, changed, rate_hz, subtype="PCM_24")
    return path


def start(mix: Path, folder: Path) -> subprocess.Popen[str]:
    """Start one critique that records."""
    command = [sys.executable, "-m", "advisor", "critique", str(mix), "--quick", "--no-audition", "--project", PROJECT]
    environment = {**os.environ, "MIXPROOF_HOME": str(folder / "home"), "PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment)


def finish(run: subprocess.Popen[str]) -> bool:
    """Wait, and say whether the critique was reported done."""
    out, _ = run.communicate(timeout=300)
    return DONE in out


def whole_bounces(folder: Path) -> set[str]:
    """Return the files of all bounces, each of them whole; raises where one is not."""
    with open_database(folder / "home") as opened, opened.reading() as read:
        assert opened.set_aside is None, "the database was damaged"
        assert read.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert read.execute("PRAGMA foreign_key_check").fetchall() == []
        project = store.project_id(read, PROJECT)
        bounces = [] if project is None else store.bounces(read, project)
        assert [bounce.number for bounce in bounces] == list(range(1, len(bounces) + 1)), "a number is missing"
        for bounce in bounces:
            history = store.report_of(read, bounce).history
            assert history is not None, "no history"
            count = read.execute("SELECT count(*) FROM findings WHERE bounce = ?", (bounce.id,)).fetchone()[0]
            assert (history.number, len(history.findings)) == (bounce.number, count), "half a bounce"
        return {bounce.file_name for bounce in bounces}


def main() -> int:
    """Kill, check, crowd, check."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n", maxsplit=1)[0])
    parser.add_argument("--song", type=Path, required=True)
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--at-once", type=int, default=10)
    given = parser.parse_args()
    sound, rate_hz = soundfile.read(given.song, dtype="float32", always_2d=True, frames=SECONDS * 48000)
    chance = random.Random(1)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        begun = time.monotonic()
        assert finish(start(take(sound, rate_hz, 0, folder), folder)), "the first critique failed"
        usual_s = time.monotonic() - begun
        done, killed = {"take-0.wav"}, 0
        for number in range(1, given.kills + 1):
            mix = take(sound, rate_hz, number, folder)
            run = start(mix, folder)
            time.sleep(usual_s * chance.uniform(0.3, 1.15))
            killed += run.poll() is None
            run.kill()
            if finish(run):
                done.add(mix.name)
            there = whole_bounces(folder)
            assert done <= there, f"reported done and not there: {done - there}"
        print(f"{given.kills} runs, {killed} killed on the way, {len(done) - 1} reported done, {len(there)} held, all whole.")
        mixes = [take(sound, rate_hz, 1000 + number, folder) for number in range(given.at_once)]
        runs = [start(mix, folder) for mix in mixes]
        finished = [finish(run) for run in runs]
        there = whole_bounces(folder)
        recorded = sum(mix.name in there for mix in mixes)
        print(f"{given.at_once} at once: {sum(finished)} reported done, {recorded} recorded.")
        return 0 if all(finished) and recorded == given.at_once else 1


if __name__ == "__main__":
    sys.exit(main())
