"""The sound drops out.

## What it means
Inside the song the signal falls to digital silence from one sample to the next, and comes back as abruptly.

## Why it matters
It is heard as a hole or a tick and cannot be repaired in mastering.

## What to do
Bounce again, offline or with a larger buffer; if the hole is in a recorded track, repair it there.

## Check by ear
Listen to the named places on headphones: a hole or a tick in sounds that should ring on.

## Leave it alone when
It is a stutter or stop that you cut on purpose.

## Sources
delivery-practice, judgement
"""

from dataclasses import dataclass

from features.records.file import Health
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.shared.excess import past
from rules.shared.spans import MOST_SPANS
from rules.shared.words import counted


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    count: float = limit(0.0, unit="holes", low=0.0, high=100.0, source="judgement", says="more holes than this are reported")
    many: float = limit(12.0, unit="holes", low=2.0, high=500.0, source="judgement", says="from here they are taken for stutter edits")


@rule(
    topic="delivery",
    title="Dropouts",
    message="The sound drops to digital silence and back in {places}. The longest gap lasts {longest_ms:.0f} ms.",
    advice="Bounce again offline or with a larger buffer, or repair the track.",
    stop="when those places play through",
    shared="breaks",
)
def check(health: Health, limits: Limits) -> Finding | NotApplicable | None:
    """Count abrupt holes. Very many are edits."""
    if health.silent:
        return NotApplicable("the file is silent")
    if len(health.gaps) <= limits.count:
        return None
    many = len(health.gaps) >= limits.many
    confidence: Confidence = "low" if many else "medium"
    return Finding(
        excess=max(0.5, past(len(health.gaps), limits.count, 3.0)),
        confidence=confidence,
        sure_because="so many may be stutter edits" if many else "both edges are abrupt; a hard stop by arrangement looks the same",
        numbers={
            "places": counted(len(health.gaps), "place"),
            "longest_ms": 1000.0 * max(span.end_s - span.start_s for span in health.gaps),
        },
        cause="file",
        where=health.gaps[:MOST_SPANS],
    )
