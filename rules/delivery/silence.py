"""The file or a channel is silent.

## What it means
Nothing, or next to nothing, is in the file or in one of its channels.

## Why it matters
There is nothing to master, or only half of the song arrives.

## What to do
Look at the bounce's source, solo and mute switches, and the routing of the mix bus. Bounce again.

## Check by ear
Play the file and watch both meters.

## Leave it alone when
Never for a song.

## Sources
delivery-practice, judgement
"""

from dataclasses import dataclass

from features.records.file import Health
from rules.base import Finding, limit, rule


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    excess: float = limit(4.0, unit="tolerances", low=0.1, high=4.0, source="judgement", says="how heavily silence weighs")


@rule(
    topic="delivery",
    title="Silence",
    message="{what} is silent.",
    advice="Check solo, mute, routing and the bounce range, and bounce again.",
    stop="when both meters move",
)
def check(health: Health, limits: Limits) -> Finding | None:
    """Report a silent file or channel."""
    if health.silent:
        what = "The whole file"
    elif health.silent_channels:
        what = f"The {' and the '.join(health.silent_channels)} channel"
    else:
        return None
    return Finding(excess=limits.excess, confidence="high", sure_because="every sample was checked", numbers={"what": what}, cause="file")
