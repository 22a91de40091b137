"""Show that trying remedies costs the same for a long song as for a short one, and what the rest of a critique costs beside it.

usage: python -m tests.benchmarks.speed.trial_cost [FILE] [--minutes 3 30]

The long file is the short one over and over (FILE, cut to the first number of minutes; without it a synthetic mix with a whistle and
a quiet kick, so that there is something to try). Each length runs in a process of its own, after a first one that may compile. Printed
per part: seconds of CPU, how often it ran, and the highest memory of the process until then; then the ratio of both lengths.

Judged: what one trial costs (all trials over the number of times the excerpt was listened to), since the number of trials follows from the
findings, and those of another length may differ. Whole-song work grows with the song, as it must; its memory should not.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import soundfile

from advisor import critique
from advisor.app.settings import Settings
from advisor.planning import listening
from advisor.planning import plan_outcome as trying

RATE_HZ = 44100
MOST_RATIO = 1.25
PARTS = ("measure the whole song", "trials on the excerpt", "  of it: listening", "plan over the whole song")
NAMES = ("measure", "make_plan", "measure_excerpt", "measure_again")


def synthetic_mix() -> Iterator[np.ndarray]:
    """Yield ten-second pieces: a soft kick, a loud bass, chords, noise hats and a whistle at 3.1 kHz, without end."""
    generator = np.random.default_rng(1)
    time_s = np.arange(10 * RATE_HZ) / RATE_HZ
    beat = time_s % 0.5
    kick = 0.5 * np.sin(2 * np.pi * 55 * beat) * np.exp(-beat * 12)
    while True:
        for chord in range(4):
            bass = 0.5 * np.sin(2 * np.pi * (55 + 10 * chord) * time_s)
            chords = sum(np.sin(2 * np.pi * f * time_s + chord) for f in (220, 277, 330, 440)) * 0.08
            whistle = 0.1 * np.sin(2 * np.pi * 3100 * time_s) * (beat > 0.2)
            hats = generator.normal(size=(2, time_s.size)) * np.exp(-((time_s + 0.25) % 0.25) * 40) * 0.15
            yield 0.4 * (kick + bass + chords + whistle + hats)


def write_song(path: Path, minutes: float, original: Path | None, loop_minutes: float) -> None:
    """Write ``minutes`` of a song: the first ``loop_minutes`` of it over and over."""
    total, loop = round(minutes * 60 * RATE_HZ), round(loop_minutes * 60 * RATE_HZ)
    if original is None:
        pieces = [piece.T for _, piece in zip(range(max(round(loop_minutes * 6), 1)), synthetic_mix(), strict=False)]
        rate_hz = RATE_HZ
    else:
        samples, rate_hz = soundfile.read(original, frames=loop, dtype="float32", always_2d=True)
        pieces = [samples]
        total = round(minutes * 60 * rate_hz)
    with soundfile.SoundFile(path, "w", rate_hz, pieces[0].shape[1], "PCM_24") as out:
        while total > 0:
            for piece in pieces:
                out.write(piece[:total])
                total -= min(len(piece), total)


def timed(path: Path) -> dict[str, list[float]]:
    """Critique a file once and return, per part, the seconds of CPU, the highest memory in MiB when it was done, and its calls."""
    costs: dict[str, list[float]] = {part: [0.0, 0.0, 0.0] for part in PARTS}

    def watch(module: ModuleType, name: str, part: str) -> None:
        work = getattr(module, name)

        def wrapped(*given: object, **named: object) -> object:
            start = time.process_time()
            result = work(*given, **named)
            spent, _, calls = costs[part]
            highest = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            costs[part] = [spent + time.process_time() - start, highest, calls + 1]
            return result

        setattr(module, name, wrapped)

    for module, name, part in zip((critique, trying, listening, trying), NAMES, PARTS, strict=True):
        watch(module, name, part)
    with tempfile.TemporaryDirectory() as folder:
        critique.critique(path, replace(Settings(), audition=False), Path(folder))
    return costs


def run(path: Path) -> dict[str, list[float]]:
    """Time a file in a process of its own."""
    done = subprocess.run([sys.executable, __file__, str(path), "--one"], stdout=subprocess.PIPE, text=True, check=True)
    parts: dict[str, list[float]] = json.loads(done.stdout)
    return parts


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("file", nargs="?", type=Path)
    parser.add_argument("--minutes", nargs=2, type=float, default=(3.0, 30.0))
    parser.add_argument("--one", action="store_true", help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.one:
        print(json.dumps(timed(chosen.file)))
        return 0
    with tempfile.TemporaryDirectory() as folder:
        results = []
        for minutes in (0.5, *chosen.minutes):
            path = Path(folder) / "song.wav"
            write_song(path, minutes, chosen.file, min(chosen.minutes))
            results.append(run(path))
    short, long = results[1:]
    print(f"{'CPU s (calls, peak MiB so far)':<32}" + "".join(f"{minutes:>16g} min" for minutes in chosen.minutes) + f"{'ratio':>8}")
    for part in PARTS:
        cells = "".join(f"{spent:.2f} ({calls:.0f}, {memory:.0f})".rjust(20) for spent, memory, calls in (short[part], long[part]))
        print(f"{part:<32}{cells}{long[part][0] / max(short[part][0], 1e-9):>8.2f}")
    if not all(cost[PARTS[3]][2] for cost in (short, long)):
        print("nothing that helps was found, so no plan was run")
    each_listening = [cost[PARTS[1]][0] / max(cost[PARTS[2]][2], 1) for cost in (short, long)]
    ratio = each_listening[1] / each_listening[0]
    print(f"\na trial costs {each_listening[0]:.3f} s and {each_listening[1]:.3f} s: {ratio:.2f} times as much (allowed: {MOST_RATIO})")
    return 0 if ratio <= MOST_RATIO else 1


if __name__ == "__main__":
    sys.exit(main())
