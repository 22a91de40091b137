"""The plans for finished, freely licensed songs: a well-balanced song should get a short one, or none.

    python -m tests.benchmarks.plans.finished_plans --songs DIR [--count 10] [--skip 0]

DIR holds one folder of songs per collection. Songs of 1.5 to 4 minutes are taken in turn from each collection, in the order of their names,
beginning with the ``--skip``-th of each. For each: the findings of the mix, the steps of the plan with what each wins on the excerpt, and
the clean loudness of the whole song before and after.
"""

import argparse
import sys
import time
from itertools import chain, zip_longest
from pathlib import Path

import numpy as np
import soundfile

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import judge
from advisor.measuring.measure import measure
from advisor.planning.plan_outcome import try_remedies
from advisor.planning.song import MixedSong
from features.sound.load import open_source
from rules.remedy import Remedy

SHORTEST_S, LONGEST_S = 90.0, 240.0
SUFFIXES = (".ogg", ".flac", ".wav")


def move(remedy: Remedy) -> str:
    part = "" if remedy.part == "mix" else f" {remedy.part}"
    where = "" if remedy.frequency_hz is None else f" {remedy.frequency_hz:.0f} Hz"
    amount = "" if remedy.gain_db is None else f" {remedy.gain_db:+.1f} dB"
    level = "" if remedy.ceiling_dbfs is None else f" at {remedy.ceiling_dbfs:.1f} dBFS"
    threshold = "" if remedy.threshold_dbfs is None else f" from {remedy.threshold_dbfs:.1f} dBFS"
    return f"{remedy.kind}{part}{where}{amount}{level}{threshold}"


def chosen(root: Path, count: int, skip: int) -> list[Path]:
    """Return songs of ordinary length, in turn from each collection."""
    collections = []
    for folder in sorted(path for path in root.iterdir() if path.is_dir()):
        songs = [path for path in sorted(folder.iterdir()) if path.suffix in SUFFIXES]
        collections.append([path for path in songs if SHORTEST_S <= soundfile.info(path).duration <= LONGEST_S][skip:])
    in_turn = chain.from_iterable(zip_longest(*collections))
    return [path for path in in_turn if path is not None][:count]


def loudness(lufs: float | None) -> str:
    return "none" if lufs is None else f"{lufs:.1f}"


def plan_of(path: Path) -> int:
    """Print the plan of one song; return its number of steps."""
    settings, start = Settings(), time.process_time()
    with open_source(path) as opened:
        measured = measure(opened.source, opened.file, lambda: opened.not_finite, yardstick_of(settings), Quiet())
        judged = judge(measured, yardstick_of(settings))
        song = MixedSong(opened.source, measured, yardstick_of(settings))
        tried = try_remedies(song, measured, judged, yardstick_of(settings), Quiet())
        minutes = opened.source.frames / opened.source.rate_hz / 60.0
    findings = [
        f"{card.rule.id.partition('/')[2]} {card.finding.excess:.1f} {card.finding.confidence}"
        for card in judged.cards
        if card.rule.stage == "mixing"
    ]
    steps = [] if tried is None else tried.plan.steps
    before = None if tried is None else tried.whole_before
    after = None if tried is None else tried.whole_after
    change = "" if before is None or after is None else f", clean {loudness(before.clean_lufs)} > {loudness(after.clean_lufs)} LUFS"
    excess = "" if before is None or after is None else f", total excess {before.excess:.2f} > {after.excess:.2f}"
    print(
        f"{path.parent.name}/{path.stem}: {minutes:.1f} min, {len(steps)} steps{change}{excess} ({time.process_time() - start:.0f} s CPU)"
    )
    print(f"    found: {', '.join(findings) or 'nothing in the mix'}")
    for step in steps:
        title = step.trial.card.finding.title or step.trial.card.rule.title
        print(f"    {move(step.remedy)}: {title} ({step.trial.card.finding.confidence}), wins {step.trial.benefit:.2f}", flush=True)
    return len(steps)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--skip", type=int, default=0)
    options = parser.parse_args()
    songs = chosen(options.songs, options.count, options.skip)
    if not songs:
        sys.exit("no song of 1.5 to 4 minutes in that folder")
    steps = [plan_of(path) for path in songs]
    print(f"{len(songs)} songs: steps {sorted(steps)}, median {np.median(steps):.1f}")


if __name__ == "__main__":
    main()
