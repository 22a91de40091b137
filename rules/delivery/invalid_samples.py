"""Some samples are no numbers.

## What it means
The float file holds values that are not a number or infinite.

## Why it matters
Other programs play them as loud cracks, or stop at them.

## What to do
A plug-in on the mix bus produced them: bypass plug-ins one by one, and bounce again.

## Check by ear
Turn the volume down before you play the file: these samples may crack at full level.

## Leave it alone when
Never.

## Sources
delivery-practice, judgement
"""

from dataclasses import dataclass

from features.records.file import Health
from rules.base import Finding, limit, rule
from rules.shared.words import counted


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    count: float = limit(0.0, unit="samples", low=0.0, high=1000.0, source="judgement", says="more invalid samples than this are reported")


@rule(
    topic="delivery",
    title="Invalid samples",
    message="{found} not valid numbers. They were read as silence.",
    advice="Bypass plug-ins one by one to find the cause, then bounce again.",
    stop="when no invalid sample is left",
)
def check(health: Health, limits: Limits) -> Finding | None:
    """Count samples that are no number."""
    if health.not_finite <= limits.count:
        return None
    return Finding(
        excess=4.0,
        confidence="high",
        sure_because="every sample was checked",
        numbers={"found": counted(health.not_finite, "sample is", "samples are")},
        cause="file",
    )
