"""The tops of an element are cut off.

## What it means
In this stem several samples in a row stand at the same height where its sound should rise on: it was clipped before it came into the mix.

## Why it matters
In the mix the flat tops vanish among the others, so no meter on the mix bus shows them, but the distortion stays. Nothing later removes it.

## What to do
Look along this track for the stage that clips: the recording, a sample, a plug-in's output, a red channel. Lower the level before it and
bounce the stem again. Stop when its tops are round.

## Check by ear
Solo it at the place named: a rough edge or crackle on the loudest notes? Zoom in: the tops are flat.

## Leave it alone when
The clipping is its sound, as on a distorted drum or guitar.

## Sources
clip-audibility, judgement, clipped-stems
"""

from dataclasses import dataclass

from features.records.elements import Element, Elements
from features.records.file import File
from rules.base import Confidence, Finding, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called, present, titled, worst_first
from rules.shared.excess import past
from rules.shared.spans import spans_of
from rules.shared.words import counted


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    runs_per_minute: float = limit(
        10.0, unit="runs a minute", low=1.0, high=1000.0, source="clipped-stems", says="more flat tops than this are reported"
    )
    clear: float = limit(
        100.0, unit="runs a minute", low=1.0, high=10000.0, source="clipped-stems", says="from here on it is more than a hint"
    )
    clear_longest: float = limit(
        10.0, unit="samples", low=3.0, high=100.0, source="clipped-stems", says="if the longest flat top is at least this long"
    )


@rule(
    topic="distortion",
    title="Clipped element",
    message="{name} is clipped before the mix: {tops}, up to {longest:.0f} samples long.",
    advice="Lower the level before the stage that clips {name}, and bounce the stem again.",
    stop="when its tops are round",
)
def check(elements: Elements, file: File, limits: Limits) -> tuple[Finding, ...] | None:
    """Report elements with flat tops."""
    minutes = max(file.duration_s / 60.0, 0.25)
    return worst_first(
        [
            _finding(element, element.level.clipped_runs / minutes, limits)
            for element in present(elements)
            if element.level.clipped_runs / minutes > limits.runs_per_minute
        ]
    )


def _finding(element: Element, per_minute: float, limits: Limits) -> Finding:
    longest = max((moment.value for moment in element.level.clipped), default=0.0)
    confidence: Confidence = "medium" if per_minute >= limits.clear and longest >= limits.clear_longest else "low"
    return Finding(
        excess=max(past(per_minute, limits.runs_per_minute, 9.0 * limits.runs_per_minute), 0.2),
        confidence=confidence,
        sure_because="flat tops were counted sample by sample; only you know if its distortion is meant",
        numbers={
            "name": called(element.name),
            "tops": counted(element.level.clipped_runs, "flat top"),
            "longest": longest,
        },
        cause="clipping",
        where=spans_of(element.level.clipped),
        remedy=Remedy(kind="none", part=element.name),
        title=f"{titled(element.name, 30)} is clipped",
        stem=element.name,
    )
