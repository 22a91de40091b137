"""An element jumps in level and is not compressed.

## What it means
Several signs agree that this element still has the uneven level of a recording: its attacks differ much in height, its phrases in
loudness, and its peaks stand far above its body.

## Why it matters
One fader position cannot serve it: when its soft notes are heard, its loud ones jump out. In the sum the loud ones also take the room the
limiter needs.

## What to do
Compress it with the settings named, which were found on this audio, or ride the fader by hand. Stop when it stays in its place; if it goes
flat or starts to breathe, take half.

## Check by ear
Loop the named passage and set the fader so that the softest notes are just heard: do the loud ones now jump out?

## Leave it alone when
Its dynamics are the expression of the part, and it stands alone enough to be heard throughout. Or it was programmed that way, as
synthesisers mostly are.

## Sources
judgement, level-practice
"""

from dataclasses import dataclass

from features.records.elements import Element, ElementDynamics, Elements
from rules.base import Finding, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import PLAYED, called, present, titled, worst_first
from rules.shared.excess import past
from rules.shared.spans import MOST_SPANS
from rules.shared.words import sentences

RECORDED = PLAYED | {"kick", "bass"}
MEANT = "only you know if such dynamics are meant"
PROGRAMMED = "programmed parts mostly have the level they were given"


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    reduction_db: float = limit(
        1.5, unit="dB", low=0.5, high=6.0, source="judgement", says="a compressor that would take off less in loud moments is not advised"
    )
    fewest_signs: float = limit(2.0, unit="signs", low=2.0, high=5.0, source="level-practice", says="with fewer signs, nothing is said")


@rule(
    topic="dynamics",
    title="Uneven element",
    message="{name} is uneven. {signs}.",
    advice="Compress {name} {ratio:.1f}:1 from {threshold_dbfs:.0f} dBFS, attack {attack_ms:.0f} ms, release {release_ms:.0f} ms.",
    stop="when it holds its place, with about {reduction_db:.0f} dB of gain reduction in its loud moments",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | None:
    """Report elements that need compression.

    Raw by agreeing signs, with the settings for them.
    """
    raw_elements = [(element, element.dynamics) for element in present(elements)]
    raw = [
        (element, its) for element, its in raw_elements if its is not None and its.state == "raw" and len(its.signs) >= limits.fewest_signs
    ]
    return worst_first([finding for finding in (_finding(element, its, limits) for element, its in raw) if finding is not None])


def _finding(element: Element, its: ElementDynamics, limits: Limits) -> Finding | None:
    threshold, ratio, attack, release, reduction = its.threshold_dbfs, its.ratio, its.attack_ms, its.release_ms, its.reduction_db
    if threshold is None or ratio is None or attack is None or release is None or reduction is None:
        return None
    return Finding(
        excess=past(reduction, limits.reduction_db, 2.0),
        confidence="medium" if element.role in RECORDED else "low",
        sure_because=f"{len(its.signs)} signs agree; {MEANT if element.role in RECORDED else PROGRAMMED}",
        numbers={"name": called(element.name), "signs": sentences(its.signs), "ratio": ratio, "threshold_dbfs": threshold,
                 "attack_ms": attack, "release_ms": release, "reduction_db": reduction},
        cause="unsteady",
        where=its.where[:MOST_SPANS],
        remedy=Remedy(kind="compressor", part=element.name, threshold_dbfs=threshold, ratio=ratio, attack_ms=round(attack, 1),
                      release_ms=round(release)),
        title=f"{titled(element.name, 30)} is uneven",
        stem=element.name,
    )  # fmt: skip
