"""How likely findings are right: fitted on planted and untouched songs, checked on songs kept out.

    python -m tests.benchmarks.tables.make_probabilities --songs DIR --finished DIR [--cache DIR] [--sizes 0 1] [--write]

DIR/SONG/stems as for `planted_faults`, DIR/PACKAGE/SONG as for `false_alarms`; ``--cache`` with their records saves the measuring.
A finding on a planted song is right where it names the fault, wrong where the song as it is does not have it and the plant did not
bring it about by what is heard (`truth.py`); others say nothing and are left out. On a finished song every finding about the mix is
wrong. Base rates: one song in ten has each of the planted faults; half of all songs are as the planted ones otherwise are, half as the
finished ones. ``--write`` puts the model beside the judge, and the reliability of those kept out into `docs/calibration/`, from where
`make_calibration` takes it.
"""

import argparse
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from sklearn.linear_model import LogisticRegression

from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import judge
from advisor.judging.probability import FITTED_STAGES, HIGH, LEAST_TOLD, MEDIUM, TABLE, ProbabilityTable, is_fitted
from advisor.measuring.measured import Measured
from features.records.elements import Elements
from rules.base import Finding, Rule
from tests.benchmarks.diagnosis import false_alarms, scoring
from tests.benchmarks.diagnosis.faults import FAULTS, Fault, Size
from tests.benchmarks.diagnosis.measured_records import Piece, Store, excerpt, features_tree, records_of, sketch_of
from tests.benchmarks.diagnosis.planted_faults import elements_of
from tests.benchmarks.diagnosis.truth import brought_about
from tests.benchmarks.plans.planting import Stems

RULES_COUNT = 1.5  # a rule's own log odds cost less than those of all, for each of them is about few findings
FAULT_RATE = 0.1  # of songs that have a fault, for each kind of fault; a choice, since nobody has counted
BINS = (0.0, LEAST_TOLD, MEDIUM, HIGH, 1.0)
CONFIDENCES = ("low", "medium", "high")
RELIABILITY = Path("docs/calibration/reliability.json")


@dataclass(frozen=True, slots=True)
class Sample:
    """One finding: whether it is right, and on which song."""

    song: str
    rule: str
    confidence: str
    excess: float
    right: bool
    planted: bool
    kept_out: bool


@lru_cache(maxsize=1)
def song_of(folder: Path) -> Stems:
    """Return a song's excerpt, read once for all its faults."""
    return excerpt(folder)


def told(measured: Measured, *, stems: bool) -> list[tuple[Rule, Finding]]:
    """Return every finding about the mix as the rules say it."""
    records = {kind: record for kind, record in measured.records.items() if stems or kind is not Elements}
    judged = judge(Measured(records, ()), yardstick_of(Settings()), rate=lambda _, finding: finding)
    pairs = [pair for card in judged.cards for pair in ((card.rule, card.finding), *card.also)]
    return [(rule, finding) for rule, finding in pairs if is_fitted(rule)]


def planted_samples(folder: Path, fault: Fault, size: Size, store: Store) -> Iterator[Sample]:
    """Yield what is said of one planted song that is known to be right or wrong."""
    song = song_of(folder)
    piece, elements = Piece(song.name, lambda: song), elements_of(fault, song)
    plain, after = records_of(store, piece, None, 0), records_of(store, piece, fault, size)
    if plain is None or after is None:
        return
    before = [(rule.id.partition("/")[2], finding) for rule, finding in told(plain, stems=fault.stems)]
    sketches = sketch_of(store, piece, None, 0), sketch_of(store, piece, fault, size)
    for rule, finding in told(after, stems=fault.stems):
        name = rule.id.partition("/")[2]
        hit = fault.hit(name, finding, elements)
        known = hit or not (
            name in fault.follows
            or any(scoring.same((name, finding), other) for other in before)
            or brought_about(name, finding, *sketches)
        )
        if known:
            yield Sample(song.name, rule.id, finding.confidence, finding.excess, hit, planted=True, kept_out=song.name in scoring.KEPT_OUT)


def finished_samples(path: Path, store: Store) -> Iterator[Sample]:
    """Yield what is said of a finished song."""
    records = false_alarms.records_of(path, store)
    for rule, finding in told(Measured(records, ()), stems=False):
        kept_out = path.parent.name in false_alarms.KEPT_OUT
        yield Sample(path.stem, rule.id, finding.confidence, finding.excess, right=False, planted=False, kept_out=kept_out)


def columns(samples: Sequence[Sample], rules: Sequence[str]) -> np.ndarray[Any, Any]:
    """Return what the model sees of each finding, shape ``(samples, 3 + rules)``."""
    rows = [
        [
            *(float(sample.confidence == name) for name in CONFIDENCES),
            sample.excess,
            *(RULES_COUNT * (sample.rule == rule) for rule in rules),
        ]
        for sample in samples
    ]
    return np.array(rows)


def weights(samples: Sequence[Sample], songs: Mapping[bool, int]) -> np.ndarray[Any, Any]:
    """Return how much each finding counts at the base rates, whatever the number of songs here; one for each song on average."""
    kinds = sum(fault.stage in FITTED_STAGES for fault in FAULTS)
    rates = [FAULT_RATE * kinds / songs[True] if sample.right else 0.5 / songs[sample.planted] for sample in samples]
    return np.array(rates) * sum(songs.values()) / 2.0


def fitted(samples: Sequence[Sample], songs: Mapping[bool, int]) -> ProbabilityTable:
    """Return the model fitted on samples; ``songs`` counts planted (True) and finished ones."""
    rules = sorted({sample.rule for sample in samples})
    model = LogisticRegression(C=1.0, fit_intercept=False, max_iter=1000)
    model.fit(columns(samples, rules), [sample.right for sample in samples], sample_weight=weights(samples, songs))
    values = model.coef_[0].tolist()
    by_rule = {rule: round(RULES_COUNT * value, 3) for rule, value in zip(rules, values[len(CONFIDENCES) + 1 :], strict=True)}
    by_confidence = {name: round(value, 3) for name, value in zip(CONFIDENCES, values, strict=False)}
    return ProbabilityTable(by_confidence, round(values[len(CONFIDENCES)], 3), by_rule)


def reliability(samples: Sequence[Sample], songs: Mapping[bool, int], table: ProbabilityTable) -> list[dict[str, float]]:
    """Return for each class of probability how many findings there are, and how many of them are right at the base rates."""
    said = np.array([table.probability(sample.rule, sample.confidence, sample.excess) for sample in samples])  # type: ignore[arg-type]
    right, weight = np.array([sample.right for sample in samples]), weights(samples, songs)
    rows = []
    for low, high in pairwise(BINS):
        inside = (said >= low) & (said < high + (high == 1.0))
        total = float(weight[inside].sum())
        rows.append({
            "from": low, "to": high, "findings": int(inside.sum()),
            "said": round(float((said * weight)[inside].sum() / total), 3) if total else 0.0,
            "right": round(float((right * weight)[inside].sum() / total), 3) if total else 0.0,
        })  # fmt: skip
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--finished", type=Path, required=True)
    parser.add_argument("--cache", type=Path, default=None)
    parser.add_argument("--measured-by", default=None)
    parser.add_argument("--kept-only", action="store_true")
    parser.add_argument("--sizes", type=int, nargs="*", default=(0, 1))
    parser.add_argument("--write", action="store_true")
    chosen = parser.parse_args()
    store = Store(chosen.cache, chosen.measured_by or features_tree(), only=chosen.kept_only)
    samples: list[Sample] = []
    songs = {False: {True: 0, False: 0}, True: {True: 0, False: 0}}  # kept out or not, planted or finished
    for folder in sorted(path for path in chosen.songs.iterdir() if (path / "stems").is_dir()):
        for fault in (fault for fault in FAULTS if fault.stage in FITTED_STAGES):
            for size in chosen.sizes:
                samples.extend(planted_samples(folder, fault, size, store))
                songs[folder.name in scoring.KEPT_OUT][True] += 1
    for path in sorted(path for path in chosen.finished.glob("*/*") if path.suffix in false_alarms.SUFFIXES):
        samples.extend(finished_samples(path, store))
        songs[path.parent.name in false_alarms.KEPT_OUT][False] += 1
    setting, kept_out = ([sample for sample in samples if sample.kept_out == out] for out in (False, True))
    table = fitted(setting, songs[False])
    rows = {"set on": reliability(setting, songs[False], table), "kept out": reliability(kept_out, songs[True], table)}
    counted = {"songs": {"set on": songs[False], "kept out": songs[True]}, **rows}
    print(json.dumps(asdict(table), indent=1), json.dumps(counted, indent=1), sep="\n")
    if chosen.write:
        Path("advisor/judging", TABLE).write_text(json.dumps(asdict(table), indent=1) + "\n", encoding="utf-8")
        RELIABILITY.write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
