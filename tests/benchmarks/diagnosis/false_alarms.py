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
class Told:
    """One song and what was said of it."""

    package: str
    song: str
    cards: tuple[Card, ...]
    verdict: Verdict

    def sure(self, stage: str) -> list[Card]:
        return [one for one in self.cards if one.rule.stage == stage and one.finding.confidence in SURE]


def records_of(path: Path, store: Store) -> Records:
    """Return what is measured of a finished song."""
    names = ("finished", path.parent.name, path.name)
    records = store.kept(*names)
    if records is None:
        with open_source(path) as opened:
            found = measure(opened.source, opened.file, lambda: opened.not_finite, yardstick_of(Settings()), Quiet())
        records = dict(found.records)
        store.keep(records, *names)
    return records


def told(path: Path, store: Store) -> Told:
    records = records_of(path, store)
    judged = judge(Measured(records, ()), yardstick_of(Settings()))
    assert not judged.failed, judged.failed
    return Told(path.parent.name, path.stem, judged.cards, verdict(dict(records), judged))


def summary(songs: Sequence[Told]) -> dict[str, Any]:
    """Return the numbers of the table."""
    sure = Counter(card.rule.id for one in songs for stage in ("mixing", "delivery") for card in one.sure(stage))
    hints = Counter(card.rule.id for one in songs for card in one.cards if card.finding.confidence not in SURE)
    return {
        "songs": len(songs),
        "packages": sorted({one.package for one in songs}),
        "mixing, more than a hint": sum(len(one.sure("mixing")) for one in songs),
        "delivery, more than a hint": sum(len(one.sure("delivery")) for one in songs),
        "hints": sum(hints.values()),
        "not ready": sum(not one.verdict.ready for one in songs),
        "short of the target": sum("LU short of your" in one.verdict.sentence for one in songs),
        "by rule": {name: [sure[name], hints[name]] for name in sorted(sure | hints, key=lambda name: (-sure[name], -hints[name], name))},
    }


def said(songs: Sequence[Told], title: str) -> None:
    if not songs:
        return
    found = summary(songs)
    count = found["songs"]
    print(f"\n{title}: {count} songs ({', '.join(found['packages'])})")
    print(
        f"  a song, with medium or high confidence: {found['mixing, more than a hint'] / count:.2f} of the mix, "
        f"{found['delivery, more than a hint'] / count:.2f} of the file; hints {found['hints'] / count:.2f}; "
        f"not ready {found['not ready']} (of these short of the target {found['short of the target']})"
    )
    print("  rule: medium or high, low: " + ", ".join(f"{name} {sure}, {low}" for name, (sure, low) in found["by rule"].items()))


def listed(one: Told) -> None:
    print(f"{one.package}/{one.song}: {'ready' if one.verdict.ready else one.verdict.sentence}")
    for card in one.cards:
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
    songs = [told(path, store) for path in paths]
    setting, kept = ([one for one in songs if (one.package in KEPT_OUT) == out] for out in (False, True))
    for one in setting if chosen.list else ():  # those kept out are looked at as numbers alone
        listed(one)
    said(setting, "packages on which thresholds are set")
    said(kept, "packages kept out")
    if chosen.json is not None:
        chosen.json.write_text(json.dumps({"set on": summary(setting), "kept out": summary(kept)}, indent=1) + "\n")


if __name__ == "__main__":
    main()
