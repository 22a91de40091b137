"""One channel is late against the other.

## What it means
The same sound arrives on one side a fixed moment after the other, through the whole song.

## Why it matters
In mono the two copies comb: some frequencies double and others cancel. On speakers the picture leans to the earlier side.

## What to do
Take the delay out where it comes in, a widener set by delay or a track nudged on one side, or move the late channel back by that time. Stop
when the mono sound is full again.

## Check by ear
Switch to mono: it sounds hollow, as through a tube; move the late channel back by the named time: the hollowness goes.

## Leave it alone when
It is a widening effect that you chose with its cost in mono.

## Sources
judgement, stereo-definitions
"""

from dataclasses import dataclass

from features.records.stereo import Stereo
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    delay_ms: float = limit(0.1, unit="ms", low=0.02, high=5.0, source="judgement", says="a longer fixed delay is reported")


@rule(
    topic="space",
    title="One channel is delayed",
    message="The {late} channel is delayed by {delay_ms:.2f} ms, through the whole song.",
    advice="Move the {late} channel {delay_ms:.2f} ms earlier, or remove the delay.",
    stop="when mono no longer sounds thin",
    shared="sides",
)
def check(stereo: Stereo, limits: Limits) -> Finding | NotApplicable | None:
    """Report a fixed delay between the channels."""
    if stereo.correlation is None:
        return missing(stereo, "correlation")
    if stereo.delay_ms is None or abs(stereo.delay_ms) <= limits.delay_ms:
        return None
    late = "right" if stereo.delay_ms > 0.0 else "left"
    return Finding(
        excess=max(1.0, past(abs(stereo.delay_ms), limits.delay_ms, 0.5)),
        confidence="high",
        sure_because="one channel is a delayed copy of the other at all frequencies",
        numbers={"late": late, "delay_ms": abs(stereo.delay_ms)},
        cause="delay",
        explains=("mixing/band_too_wide", "mixing/low_end_too_wide", "mixing/mono_loss"),
        remedy=Remedy(kind="delay", part=late, delay_ms=-abs(stereo.delay_ms)),
    )
