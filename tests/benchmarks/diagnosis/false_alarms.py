"""What finished songs by others are accused of, and why any of them is called not ready: nearly nothing should be.

    python -m tests.benchmarks.diagnosis.false_alarms --songs DIR [--cache DIR] [--only PACKAGE ...] [--list] [--json FILE]

DIR holds one folder of songs per package. Each song is measured whole and judged without references. Half of the packages set the
thresholds, the other half is kept out. Counted: cards of medium or high confidence by stage, hints beside them, and verdicts.

These songs are finished, so a finding of the mixing stage about them is suspect; it is no proof of error: many were encoded with loss
and decode above full scale, some are loops that begin and end in a sound, some are thick with limiting. ``--list`` names all of
them for review.
"""

import argparse
import json
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import Card, judge
from advisor.judging.verdict import verdict
from advisor.measuring.measure import measure
from advisor.measuring.measured import Measured
from advisor.report_model.parts import Verdict
from features.sound.load import open_source
from tests.benchmarks.diagnosis.measured_records import Records, Store, features_tree
from tests.benchmarks.diagnosis.scoring import SURE

SUFFIXES = (".ogg", ".flac", ".wav", ".mp3")
KEPT_OUT = ("frozen-bubble-data", "hyperrogue-music", "xmoto-data")  # 27 songs; the other three packages, 37 songs, set the thresholds


@dataclass(frozen=True, slots=True)
class JudgedSong:
    """One song and what was said of it."""

    package: str
    song: str
    cards: tuple[Card, ...]
    verdict: Verdict

    def sure(self, stage: str) -> list[Card]:
        return [card for card in self.cards if card.rule.stage == stage and card.finding.confidence in SURE]


def records_of(path: Path, store: Store) -> Records:
    """Return what is measured of a finished song."""
    names = ("finished", path.parent.name, path.name)
    records = store.stored(*names)
    if records is None:
        with open_source(path) as opened:
            measured = measure(opened.source, opened.file, lambda: opened.not_finite, yardstick_of(Settings()), Quiet())
        records = dict(measured.records)
        store.keep(records, *names)
    return records


def judged_song(path: Path, store: Store) -> JudgedSong:
    records = records_of(path, store)
    judged = judge(Measured(records, ()), yardstick_of(Settings()))
    assert not judged.failed, judged.failed
    return JudgedSong(path.parent.name, path.stem, judged.cards, verdict(dict(records), judged))


def summary(songs: Sequence[JudgedSong]) -> dict[str, Any]:
    """Return the numbers of the table."""
    sure = Counter(card.rule.id for song in songs for stage in ("mixing", "delivery") for card in song.sure(stage))
    hints = Counter(card.rule.id for song in songs for card in song.cards if card.finding.confidence not in SURE)
    return {
        "songs": len(songs),
        "packages": sorted({song.package for song in songs}),
        "mixing, more than a hint": sum(len(song.sure("mixing")) for song in songs),
        "delivery, more than a hint": sum(len(song.sure("delivery")) for song in songs),
        "hints": sum(hints.values()),
        "not ready": sum(not song.verdict.ready for song in songs),
        "short of the target": sum("LU short of your" in song.verdict.sentence for song in songs),
        "by rule": {name: [sure[name], hints[name]] for name in sorted(sure | hints, key=lambda name: (-sure[name], -hints[name], name))},
    }


def said(songs: Sequence[JudgedSong], title: str) -> None:
    if not songs:
        return
    numbers = summary(songs)
    count = numbers["songs"]
    print(f"\n{title}: {count} songs ({', '.join(numbers['packages'])})")
    print(
        f"  a song, with medium or high confidence: {numbers['mixing, more than a hint'] / count:.2f} of the mix, "
        f"{numbers['delivery, more than a hint'] / count:.2f} of the file; hints {numbers['hints'] / count:.2f}; "
        f"not ready {numbers['not ready']} (of these short of the target {numbers['short of the target']})"
    )
    print("  rule: medium or high, low: " + ", ".join(f"{name} {sure}, {low}" for name, (sure, low) in numbers["by rule"].items()))


def listed(song: JudgedSong) -> None:
    print(f"{song.package}/{song.song}: {'ready' if song.verdict.ready else song.verdict.sentence}")
    for card in song.cards:
        if card.finding.confidence in SURE:
            numbers = card.finding.numbers
            print(f"    {card.rule.id} {card.finding.confidence} {card.finding.excess:.2f}: {card.rule.message.format(**numbers)}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--cache", type=Path, default=None)
    parser.add_argument("--measured-by", default=None, help="take kept records of this state of features/ instead of the present one's")
    parser.add_argument("--only", nargs="*", default=())
    parser.add_argument("--list", action="store_true")
    parser.add_argument("--json", type=Path, default=None)
    chosen = parser.parse_args()
    paths = sorted(
        path for path in chosen.songs.glob("*/*") if path.suffix in SUFFIXES and (not chosen.only or path.parent.name in chosen.only)
    )
    if not paths:
        sys.exit("no songs in folders of that folder: nothing is judged")
    store = Store(chosen.cache, chosen.measured_by or features_tree())
    songs = [judged_song(path, store) for path in paths]
    setting, kept_out = ([song for song in songs if (song.package in KEPT_OUT) == out] for out in (False, True))
    for song in setting if chosen.list else ():  # those kept out are looked at as numbers alone
        listed(song)
    said(setting, "packages on which thresholds are set")
    said(kept_out, "packages kept out")
    if chosen.json is not None:
        chosen.json.write_text(json.dumps({"set on": summary(setting), "kept out": summary(kept_out)}, indent=1) + "\n")


if __name__ == "__main__":
    main()
