"""The quiet and the loud parts lie far apart.

## What it means
The quietest full part of the song is much softer than its loudest one.

## Why it matters
Set for the loud part, the quiet one gets lost on small speakers and in traffic; set for the quiet one, the loud part is crushed.

## What to do
Raise the quiet part by fader automation on its tracks or groups, a few dB at most, and keep the step at the entry. Stop while the entry
still lifts the song.

## Check by ear
Play the quiet part at a low everyday volume without touching the knob when the loud one comes: is every word and note of the quiet part
still there?

## Leave it alone when
The contrast is the point of the arrangement, or the song swells slowly from a soft start.

## Sources
section-survey
"""

from dataclasses import dataclass

from features.records.sections import Sections
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import missing, past, within


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    step_lu: float = limit(15.0, unit="LU", low=4.0, high=25.0, source="section-survey", says="parts further apart are reported")


@rule(
    topic="dynamics",
    title="Big level gap between parts",
    message="The quietest full part is {step_lu:.1f} LU quieter than the loudest one.",
    advice="Raise the quiet part about {rise_db:.0f} dB with fader automation.",
    stop="while the loud part still lifts the song",
)
def check(sections: Sections, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the quietest full part with the loudest."""
    if sections.quiet_to_loud_lu is None:
        return missing(sections, "quiet_to_loud_lu")
    if sections.quiet_to_loud_lu <= limits.step_lu:
        return None
    return Finding(
        excess=past(sections.quiet_to_loud_lu, limits.step_lu, 3.0),
        confidence="low",
        sure_because="the gap was measured, but only you know if it is meant",
        numbers={"step_lu": sections.quiet_to_loud_lu, "rise_db": within((sections.quiet_to_loud_lu - limits.step_lu) / 2.0, 1.0, 4.0)},
        cause="unsteady",
        where=() if sections.quietest is None else (sections.quietest,),
    )
