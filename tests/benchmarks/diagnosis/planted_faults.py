"""Whether faults planted in real songs are found, mended in the right direction, and blamed on nothing else.

    python -m tests.benchmarks.diagnosis.planted_faults --songs DIR [--cache DIR] [--sizes 0 1 2] [--only SONG ...] [--faults NAME ...]
                                         [--variant quieter|48k|mp3] [--trials] [--differs FILE] [--misses] [--json FILE]

DIR/SONG/stems/*.flac; the mix is the sum of the stems. 30 s of each are taken (10 s to 40 s), given a clean beginning and end, and planted
with one fault at a time by numpy and scipy alone: see `faults.py` for what, how much, and why so much. Then it is
measured and judged as `critique` does, without references.

Found: among the first three cards of its stage is a finding of a right rule, within a third of an octave of the plant where it has a
place, about a right element where stems are given. Before: songs accused of it as they are. Way: remedies that go the right way, of
those found with one. New: cards per plant that the song as it is does not have and the plant is not known to bring about; then those of
them that are false: what they speak of did not move the accused way by what is heard (`truth.py`). Measuring takes about a
second a plant; ``--cache`` keeps the records by song, fault, size and the state of `features/`.
"""

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from advisor.stems.earlier import APART_WORD
from tests.benchmarks.diagnosis.faults import BASSES, FAULTS, KICKS, LEADS, SIZES, Fault, Size
from tests.benchmarks.diagnosis.measured_records import Piece, Store, Variant, excerpt, features_tree, records_of, sketch_of, tried
from tests.benchmarks.diagnosis.scoring import KEPT_OUT, TOP, Score, compared, culprits, numbers, score, table
from tests.benchmarks.plans.planting import Stems


def scores_of(song: Stems, faults: Sequence[Fault], sizes: Sequence[Size], store: Store, variant: Variant) -> list[Score]:
    piece = Piece(song.name, lambda: song)
    before = records_of(store, piece, None, 0, variant)
    if before is None:
        return []
    plain = sketch_of(store, piece, None, 0)
    done = []
    for fault in faults:
        for size in sizes:
            after = records_of(store, piece, fault, size, variant)
            if after is not None and not (fault.stems and variant != "plain"):
                done.append(
                    score(fault, size, song.name, elements_of(fault, song), before, after, (plain, sketch_of(store, piece, fault, size)))
                )
    return done


def elements_of(fault: Fault, song: Stems) -> frozenset[str]:
    """Return the elements a fault is about."""
    if not fault.stems:
        return frozenset()
    if fault.id.startswith("drums"):
        return song.drum_stems | {f"{name}{APART_WORD}" for name in song.drum_stems}
    names = (LEADS,) if fault.id.startswith("lead") else (KICKS, BASSES)
    return frozenset(truths[song.name] for truths in names if song.name in truths)


def plan_direction(song: Stems, faults: Sequence[Fault], size: int) -> list[tuple[str, str, bool | None, str]]:
    """Run the trials; return per fault whether the plan's step for it goes the right way, None where the plan has none."""
    rows = []
    for fault in faults:
        planted = None if fault.stems or fault.direction is None else fault.plant(song, fault.amounts[size])
        if planted is None or fault.direction is None:
            continue
        advice = tried(planted, song.rate_hz)
        steps = [] if advice is None else list(advice.plan.steps)
        cards = [step.trial.card for step in steps]
        aimed = [
            step for step, card in zip(steps, cards, strict=True) if fault.hit(card.rule.id.partition("/")[2], card.finding, frozenset())
        ]
        words = ", ".join(
            f"{step.remedy.kind} {step.remedy.part} {step.remedy.frequency_hz or ''} {step.remedy.gain_db or ''}" for step in steps
        )
        rows.append((fault.id, song.name, fault.direction(aimed[0].remedy) if aimed else None, words))
    return rows


def said(scores: Sequence[Score], title: str, *, misses: bool) -> None:
    if not scores:
        return
    print(f"\n{title}: {', '.join(dict.fromkeys(score.song for score in scores))}\n{table(scores)}")
    verdicts = [score.element_right for score in scores if score.element_right is not None]
    if verdicts:
        among = f"{len(verdicts)} plants with a level among the first {TOP} cards"
        print(f"element right: of {among}, {sum(verdicts)} name a planted element first")
    for words, false in (("new accusations", False), ("of these false", True)):
        print(f"{words} by rule: " + ", ".join(f"{name} {count}" for name, count in culprits(scores, false=false)))
    for planting in scores if misses else ():
        if not planting.named or planting.new or planting.right_way is False:
            marks = "found" if planting.named else f"told, but not among the first {TOP}" if planting.named_anywhere else "MISSED"
            way = "" if planting.right_way is not False else " WRONG WAY"
            new = ", ".join(finding.label + " (false)" * finding.false for finding in planting.new) or "-"
            print(f"   {planting.fault}, {SIZES[planting.size]}, {planting.song}: {marks} {planting.confidence}{way}; new: {new}")


def keep_difference(path: Path, variant: Variant, document: Mapping[str, Any]) -> None:
    """Add what differs in one version of the songs to the file that tests/benchmarks/tables/make_calibration.py reads."""
    known = json.loads(path.read_text()) if path.exists() else {}
    path.write_text(json.dumps(known | {variant: document}, indent=1) + "\n")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--cache", type=Path, default=None)
    parser.add_argument("--measured-by", default=None, help="take kept records of this state of features/ instead of the present one's")
    parser.add_argument("--kept-only", action="store_true", help="score what is kept and measure nothing")
    parser.add_argument("--sizes", type=int, nargs="*", default=(0, 1, 2))
    parser.add_argument("--only", nargs="*", default=())
    parser.add_argument("--faults", nargs="*", choices=[fault.id for fault in FAULTS], default=[fault.id for fault in FAULTS])
    parser.add_argument("--variant", choices=("plain", "quieter", "48k", "mp3"), default="plain")
    parser.add_argument("--trials", action="store_true")
    parser.add_argument("--misses", action="store_true")
    parser.add_argument(
        "--differs", type=Path, default=None, help="with --variant: also score the songs as they are, and keep what differs"
    )
    parser.add_argument("--json", type=Path, default=None)
    chosen = parser.parse_args()
    folders = sorted(path for path in chosen.songs.iterdir() if (path / "stems").is_dir()) if chosen.songs.is_dir() else []
    folders = [path for path in folders if not chosen.only or path.name in chosen.only]
    if not folders:
        sys.exit("no song with stems in that folder: nothing is planted")
    faults = [fault for fault in FAULTS if fault.id in chosen.faults]
    store = Store(chosen.cache, chosen.measured_by or features_tree(), only=chosen.kept_only)
    if chosen.trials:
        for folder in folders:
            for row in plan_direction(excerpt(folder), faults, chosen.sizes[0]):
                print(*row, flush=True)
        return
    scores = [score for folder in folders for score in scores_of(excerpt(folder), faults, chosen.sizes, store, chosen.variant)]
    setting, kept_out = ([score for score in scores if (score.song in KEPT_OUT) == out] for out in (False, True))
    said(setting, "songs on which thresholds are set", misses=chosen.misses)
    said(kept_out, "songs kept out", misses=False)  # looked at as numbers alone, so that no threshold is fitted to them
    if chosen.differs is not None and chosen.variant != "plain":
        plain = [score for folder in folders for score in scores_of(excerpt(folder), faults, chosen.sizes, store, "plain")]
        keep_difference(chosen.differs, chosen.variant, compared(plain, scores))
    if chosen.json is not None:
        chosen.json.write_text(json.dumps(numbers(setting, kept_out), indent=1) + "\n")


if __name__ == "__main__":
    main()
