"""Whether a planted fault was found, whether its remedy goes the right way, who else was accused, and whether that is false."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import Card, Judged, judge
from advisor.measuring.measured import Measured
from features.records.elements import Elements
from rules.base import Finding
from tests.benchmarks.diagnosis.faults import SIZES, Fault, centre_of
from tests.benchmarks.diagnosis.truth import Sketch, brought_about

TOP = 3
SAME_OCTAVES = 2.0 / 3.0
KEPT_OUT = ("final-step", "pingus-3", "reggaeton-try", "song02")
SURE = ("medium", "high")


Sketches = tuple[Sketch, Sketch]  # the song as it is, and planted


@dataclass(frozen=True, slots=True)
class New:
    """A card that the song as it is does not have; ``false`` where the plant did not bring about what it says."""

    label: str
    sure: bool
    false: bool


@dataclass(frozen=True, slots=True)
class Score:
    """One planted song. ``already`` says that the song was accused of this as it is.

    ``element_right``: with stems, whether the first finding about a level, among the first three cards, is about a planted element.
    """

    fault: str
    size: int
    song: str
    broad: bool
    named: bool
    named_anywhere: bool
    sure: bool
    already: bool
    right_way: bool | None
    new: tuple[New, ...]
    confidence: str
    element_right: bool | None = None


def accuse(measured: Measured, *, stems: bool) -> Judged:
    """Judge, with or without what was measured of the stems."""
    records = {kind: record for kind, record in measured.records.items() if stems or kind is not Elements}
    result = judge(Measured(records, ()), yardstick_of(Settings()))
    assert not result.failed, result.failed
    return result


def findings(card: Card) -> Iterator[tuple[str, Finding]]:
    for rule, finding in ((card.rule, card.finding), *card.also):
        yield rule.id.partition("/")[2], finding


def score(fault: Fault, size: int, song: str, elements: frozenset[str], before: Measured, after: Measured, sketches: Sketches) -> Score:
    """Score one plant against the song as it is."""
    plain, judged = accuse(before, stems=fault.stems), accuse(after, stems=fault.stems)
    stage = [card for card in judged.cards if card.rule.stage == fault.stage]
    hits = [(place, finding) for place, card in enumerate(stage) for name, finding in findings(card) if fault.hit(name, finding, elements)]
    first = next((finding for place, finding in hits if place < TOP), None)
    already = any(fault.hit(name, finding, elements) for card in plain.cards for name, finding in findings(card))
    return Score(
        fault.id, size, song, fault.broad, first is not None, bool(hits), first is not None and first.confidence in SURE, already,
        right_way(fault, hits), new_accusations(fault, elements, plain, judged, sketches),
        "" if first is None else first.confidence, element_right(elements, stage[:TOP]),
    )  # fmt: skip


def element_right(elements: frozenset[str], cards: Sequence[Card]) -> bool | None:
    """Whether the first finding about an element's level is about one of these; None where there is none, or no stems are given."""
    levels = [finding for card in cards for _, finding in findings(card) if finding.cause == "level" and finding.stem is not None]
    return levels[0].stem in elements if elements and levels else None


def right_way(fault: Fault, hits: Sequence[tuple[int, Finding]]) -> bool | None:
    """Whether the first remedy goes the right way; None where there is none, or none is expected."""
    remedies = [finding.remedy for place, finding in hits if place < TOP and finding.remedy is not None and finding.remedy.kind != "none"]
    return None if fault.direction is None or not remedies else fault.direction(remedies[0])


def new_accusations(fault: Fault, elements: frozenset[str], plain: Judged, judged: Judged, sketches: Sketches) -> tuple[New, ...]:
    """Return the cards that the song as it is does not have, and that the plant is not known to bring about."""
    before = [pair for card in plain.cards for pair in findings(card)]
    new = []
    for card in judged.cards:
        after = list(findings(card))
        expected = any(fault.hit(name, finding, elements) or name in fault.follows for name, finding in after)
        if expected or any(same(accusation, other) for accusation in after for other in before):
            continue
        name, finding = after[0]
        label = name if finding.stem is None else f"{name} ({finding.stem})"
        hz = centre_of(finding) if name in ("broad_excess", "broad_lack", "resonance", "band_too_wide") else None
        false = not any(brought_about(rule, its, *sketches) for rule, its in after)
        new.append(New(label if hz is None else f"{label} {hz:.0f} Hz", finding.confidence in SURE, false))
    return tuple(new)


def same(accusation: tuple[str, Finding], other: tuple[str, Finding]) -> bool:
    """Whether two findings say the same: one rule, one element, and one place where they speak of one."""
    (name, finding), (other_name, other_finding) = accusation, other
    if name != other_name or finding.stem != other_finding.stem:
        return False
    here, there = centre_of(finding), centre_of(other_finding)
    return here is None or there is None or abs(float(np.log2(here / there))) <= SAME_OCTAVES


def compared(plain: Sequence[Score], other: Sequence[Score]) -> dict[str, Any]:
    """Return of how many plants another version of the songs is told the same, and which differ."""
    found_before = {(score.fault, score.size, score.song): score.named for score in plain}
    pairs = [
        (score, found_before[score.fault, score.size, score.song])
        for score in other
        if (score.fault, score.size, score.song) in found_before
    ]
    words = {True: "found", False: "missed"}
    differing = [
        f"{score.fault}, {SIZES[score.size]}, {score.song}: {words[was]}, then {words[score.named]}"
        for score, was in pairs
        if score.named != was
    ]
    return {
        "songs": sorted({score.song for score, _ in pairs}),
        "plants": len(pairs),
        "same": len(pairs) - len(differing),
        "differences": differing,
    }


def share(values: Sequence[bool]) -> float | None:
    return None if not values else sum(values) / len(values)


def summary(scores: Sequence[Score]) -> dict[str, Any]:
    """Return the table's numbers: by fault and size, and over all."""
    rows: dict[str, Any] = {}
    for fault in dict.fromkeys(score.fault for score in scores):
        rows[fault] = {
            SIZES[size]: row([score for score in scores if score.fault == fault and score.size == size]) for size in range(len(SIZES))
        }
    kinds: Mapping[str, list[Score]] = {
        "not broad tone": [score for score in scores if not score.broad],
        "broad tone": [score for score in scores if score.broad],
        "all": list(scores),
    }
    over_all = {
        name: {SIZES[size]: row([score for score in chosen if score.size == size]) for size in range(len(SIZES))}
        for name, chosen in kinds.items()
    }
    return {"faults": rows, "over all": over_all}


def row(scores: Sequence[Score]) -> dict[str, Any]:
    ways = [score.right_way for score in scores if score.right_way is not None]
    elements = [score.element_right for score in scores if score.element_right is not None]
    return {
        "songs": len(scores),
        "found": sum(score.named for score in scores),
        "told at all": sum(score.named_anywhere for score in scores),
        "more than a hint": sum(score.sure for score in scores),
        "already": sum(score.already for score in scores),
        "right way": sum(ways),
        "with a remedy": len(ways),
        "element right": sum(elements),
        "element told": len(elements),
        "new": sum(len(score.new) for score in scores),
        "new, more than a hint": sum(finding.sure for score in scores for finding in score.new),
        "new, false": sum(finding.false for score in scores for finding in score.new),
        "new, false, more than a hint": sum(finding.false and finding.sure for score in scores for finding in score.new),
    }


def table(scores: Sequence[Score]) -> str:
    """Return the table as text: per size found of songs, more than a hint, already before; new and false accusations per plant."""
    numbers = summary(scores)
    lines = [
        f"{'':34s}" + "".join(f"{size:>30s}" for size in SIZES),
        f"{'':34s}" + f"{'found (sure, before) way new/false':>30s}" * len(SIZES),
    ]
    for name, sizes in (*numbers["faults"].items(), *((f"= {key}", value) for key, value in numbers["over all"].items())):
        lines.append(f"{name:34s}" + "".join(f"{_cell(sizes[size]):>30s}" for size in SIZES))
    return "\n".join(lines)


def _cell(counts: Mapping[str, int]) -> str:
    if not counts["songs"]:
        return "-"
    way = f"{counts['right way']}/{counts['with a remedy']}"
    new = f"{counts['new'] / counts['songs']:.1f}/{counts['new, false'] / counts['songs']:.1f}"
    return f"{counts['found']:2d}/{counts['songs']} ({counts['more than a hint']}, {counts['already']}) {way} {new}"


def culprits(scores: Sequence[Score], *, false: bool = False) -> list[tuple[str, int]]:
    """Return which rules accuse newly, most often first; only falsely if asked."""
    counts: dict[str, int] = {}
    for accusing in scores:
        for finding in accusing.new:
            if finding.false or not false:
                rule = finding.label.split(" ")[0]
                counts[rule] = counts.get(rule, 0) + 1
    return sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))


def numbers(setting: Sequence[Score], kept_out: Sequence[Score]) -> dict[str, Any]:
    """Return what a round of calibration keeps: songs on which limits are set apart from those kept out."""
    groups = {"set on": setting, "kept out": kept_out}
    document: dict[str, Any] = {name: summary(scores) for name, scores in groups.items()}
    for words, false in (("by rule", False), ("by rule, false", True)):
        document[words] = {name: dict(culprits(scores, false=false)) for name, scores in groups.items()}
    return document
