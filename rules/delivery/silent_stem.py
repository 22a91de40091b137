"""A stem holds no sound.

## What it means
The file is there, but no sample of it rises above silence.

## Why it matters
Either it was rendered by mistake, or an element of the song is missing because its track was muted or its plug-in did not load.

## What to do
Look whether this element should play. If so, render it again; if not, take the file out of the folder. Stop when every file in the folder
sounds.

## Check by ear
Play the file alone, at full volume, at the place where you expect it.

## Leave it alone when
The element does not play in this version of the song.

## Sources
delivery-practice, judgement
"""

from dataclasses import dataclass

from features.records.elements import Element, Elements
from rules.base import Finding, limit, rule
from rules.shared.elements import MOST_FINDINGS, called, titled

EXCESS = 0.5  # worth a line, never a place among the first


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    peak_dbfs: float = limit(
        -80.0, unit="dBFS", low=-140.0, high=-40.0, source="judgement", says="a stem whose highest sample lies below is taken as silent"
    )


@rule(
    topic="delivery",
    title="Silent stem",
    message="{name} has no sound above {peak_dbfs:.0f} dBFS.",
    advice="Render {name} again if it should play, or remove the file.",
    stop="when every file in the folder plays",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | None:
    """Name stems without sound."""
    silent = [element for element in elements.elements if _is_silent(element, limits)]
    return tuple(_finding(element, limits) for element in silent[:MOST_FINDINGS]) or None


def _is_silent(element: Element, limits: Limits) -> bool:
    peak = element.level.sample_peak_dbfs
    return element.silent or (peak is not None and peak < limits.peak_dbfs)


def _finding(element: Element, limits: Limits) -> Finding:
    return Finding(
        excess=EXCESS,
        confidence="high",
        sure_because="every sample of the file was read",
        numbers={"name": called(element.name), "peak_dbfs": limits.peak_dbfs},
        cause="stems",
        title=f"The stem {titled(element.name, 30)} is silent",
        stem=element.name,
    )
