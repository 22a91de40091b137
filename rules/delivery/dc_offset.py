"""A constant offset under the sound.

## What it means
The wave does not swing around zero: a constant voltage, which nobody hears by itself, lies under the sound.

## Why it matters
It takes headroom from one side of the wave, so a limiter reaches its ceiling earlier, and edits may click.

## What to do
Put a high-pass filter at 10-20 Hz on the track that brings the offset in, or on the mix, before anything that limits.

## Check by ear
There is nothing to hear except a click where the file starts or stops; look at the waveform's middle line.

## Leave it alone when
Never needed by the music; removing it changes nothing audible.

## Sources
delivery-practice
"""

from dataclasses import dataclass

from features.measurements import Health
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    offset_dbfs: float = limit(
        -60.0, unit="dBFS", low=-90.0, high=-30.0, source="delivery-practice", says="an offset above this is reported"
    )


@rule(
    topic="delivery",
    title="Constant offset under the sound",
    message="A constant offset of {offset_dbfs:.0f} dBFS lies under the {channel} channel.",
    advice="High-pass at 15 Hz on the track that brings it in, or on the mix bus; the meter's middle line must come back to zero.",
)
def check(health: Health, t: Limits) -> Finding | NotApplicable | None:
    """Compare the larger channel's offset with the limit."""
    if health.silent:
        return NotApplicable("the file is silent")
    found = [(level, side) for level, side in zip(health.dc_dbfs, ("left", "right"), strict=False) if level is not None]
    if not found or max(found)[0] <= t.offset_dbfs:
        return None
    offset, channel = max(found)
    return Finding(
        excess=min((offset - t.offset_dbfs) / 10.0, 4.0),
        confidence="high",
        sure_because="an average over the whole file is exact",
        numbers={"offset_dbfs": offset, "channel": channel},
        cause="file",
        remedy=Remedy(kind="high_pass", frequency_hz=15.0, order=2),
    )
