"""A few peaks of a group stand far out.

## What it means
In this group of elements, most hits reach about the same height; a few rare ones stand clearly above them.

## Why it matters
Those few decide how far the whole song can be turned up, and the limiter that stops them pulls down everything else at these moments.
Caught in their group, the rest of the song never notices.

## What to do
Lower these hits by hand, or set a limiter without make-up gain on the group, at the ceiling named: it catches only these. Stop when it
rests nearly all the time; lower, and it works on every hit.

## Check by ear
Bypass the limiter at the named times: either the group loses an accent you want, or only the meter notices.

## Leave it alone when
These are the accents the song is built around.

## Sources
judgement, peak-practice
"""

from dataclasses import dataclass

from features.records.elements import ElementGroup, Elements
from rules.base import Finding, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called, listed, worst_first
from rules.shared.excess import past
from rules.shared.spans import spans_of


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    height_db: float = limit(
        2.0, unit="dB", low=0.5, high=12.0, source="judgement", says="strays that stand higher above the ceiling are reported"
    )
    most_per_minute: float = limit(
        15.0, unit="1/min", low=1.0, high=60.0, source="judgement", says="more than this are not rare, and no limiter is advised"
    )
    resting_share: float = limit(
        0.95, unit="share of the time", low=0.5, high=0.999, source="peak-practice", says="a limiter that rests less is not advised"
    )


@rule(
    topic="dynamics",
    title="Stray peaks in a group",
    message=(
        "In {group}, {per_minute:.1f} peaks a minute rise up to {height_db:.1f} dB above {ceiling_dbfs:.1f} dBFS. All others stay below."
    ),
    advice="Put a limiter without make-up gain on {group}, ceiling {ceiling_dbfs:.1f} dBFS.",
    stop="there: it rests {resting:.1%} of the time, and lower it works on every hit",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | None:
    """Report groups whose rare peaks stand far out.

    Above a ceiling that only they reach.
    """
    return worst_first([finding for finding in (_finding(group, limits) for group in elements.groups) if finding is not None])


def _finding(group: ElementGroup, limits: Limits) -> Finding | None:
    often, ceiling, resting = group.stray_peaks_per_minute, group.ceiling_dbfs, group.resting_share
    if not often or ceiling is None or resting is None or not group.stray_peaks:
        return None
    if often > limits.most_per_minute or resting < limits.resting_share:
        return None
    height_db = max(moment.value for moment in group.stray_peaks) - ceiling
    alone = group.members[0] if len(group.members) == 1 else None
    part = group.name if alone is None else alone
    words = f"the {group.name} group ({listed(group.members)})" if alone is None else called(alone)
    return Finding(
        excess=past(height_db, limits.height_db, 2.0),
        confidence="high",
        sure_because="every peak of the group was compared with its usual ones, and the limiter was run over it",
        numbers={"group": words, "per_minute": often, "height_db": height_db, "ceiling_dbfs": ceiling, "resting": resting},
        cause="peaks",
        where=spans_of(group.stray_peaks),
        remedy=Remedy(kind="peak_limiter", part=part, ceiling_dbfs=round(ceiling, 1)),
        title=f"Stray peaks in {part if alone is None else called(alone)}"[:60],
        stem=alone,
    )
