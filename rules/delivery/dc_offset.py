"""A constant offset under the sound.

## What it means
The wave does not swing around zero: a steady or slowly moving voltage, which nobody hears by itself, lies under the sound.

## Why it matters
It takes room from one side of the wave, so a limiter reaches its ceiling earlier, and cuts and fades may click.

## What to do
Put a high-pass filter at 10-20 Hz on the track that brings the offset in, or on the mix, before anything that limits.

## Check by ear
Zoom into a quiet stretch of the waveform: its middle does not lie on the zero line. Listen for a click where the file starts and stops.

## Leave it alone when
The file is a sketch. No music needs an offset, and taking it out changes nothing you hear but the room there is.

## Sources
song-survey
"""

from dataclasses import dataclass
from math import log10

from features.records.file import Health
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import past

HIGH_PASS_HZ = 15.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    offset_dbfs: float = limit(-40.0, unit="dBFS", low=-90.0, high=-20.0, source="song-survey", says="an offset above this is reported")


@rule(
    topic="delivery",
    title="DC offset",
    message="The {channel} channel has a DC offset of {offset_dbfs:.0f} dBFS on average. It costs {cost_db:.1f} dB of headroom.",
    advice="High-pass at {high_pass_hz:.0f} Hz on the track that brings it in, or on the mix bus.",
    stop="when the waveform is centred on zero",
    shared="offset",
)
def check(health: Health, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the larger channel's offset with the limit."""
    if health.silent:
        return NotApplicable("the file is silent")
    sides = ("left", "right") if len(health.dc_dbfs) == 2 else ("only",)
    offsets = [(level, side) for level, side in zip(health.dc_dbfs, sides, strict=True) if level is not None]
    if not offsets or max(offsets)[0] <= limits.offset_dbfs:
        return None
    offset, channel = max(offsets)
    return Finding(
        excess=past(offset, limits.offset_dbfs, 15.0),
        confidence="high",
        sure_because="the average of all samples is exact",
        numbers={
            "offset_dbfs": offset,
            "channel": channel,
            "high_pass_hz": HIGH_PASS_HZ,
            "cost_db": 20.0 * log10(1.0 + 10.0 ** (offset / 20.0)),
        },
        cause="file",
        remedy=Remedy(kind="high_pass", frequency_hz=HIGH_PASS_HZ, order=2),
    )
