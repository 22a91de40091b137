"""Noise is heard where nothing plays.

## What it means
Between the sounds the file does not get quiet: hiss, room or amplifier noise lies under it. Notes that ring there are left out.

## Why it matters
A master raises it by as much as it raises the song; pauses, intros and tails show it first.

## What to do
Close the pauses of the recorded tracks: cut the empty regions, or use a gate or expander there. Stop before tails are cut.

## Check by ear
Solo an intro, a break or the tail and turn it up: is there hiss or room under the music?

## Leave it alone when
It is tape hiss, vinyl or room that you want, or a sound made of noise such as wind, surf or a long cymbal.

## Sources
noise-survey
"""

from dataclasses import dataclass

from features.records.file import Health
from features.records.level import Level
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import missing, past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    below_db: float = limit(
        40.0, unit="dB", low=20.0, high=90.0, source="noise-survey", says="noise less far than this below the song's loudness is reported"
    )


@rule(
    topic="delivery",
    title="High noise floor",
    message="The quietest half second still has noise at {noise_dbfs:.0f} dBFS, only {below_db:.0f} dB below the song.",
    advice="Cut or gate the empty stretches of the recorded tracks.",
    stop="before a tail or a breath is cut",
    shared="noise",
)
def check(health: Health, level: Level, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the noise floor with the song's loudness."""
    if health.noise_floor_dbfs is None:
        return missing(health, "noise_floor_dbfs")
    if level.integrated_lufs is None:
        return missing(level, "integrated_lufs")
    below_db = level.integrated_lufs - health.noise_floor_dbfs
    if below_db >= limits.below_db:
        return None
    return Finding(
        excess=past(-below_db, -limits.below_db, 6.0),
        confidence="low",
        sure_because="notes were left out, but wind, breath or a steady shaker looks like noise",
        numbers={"noise_dbfs": health.noise_floor_dbfs, "below_db": below_db},
        cause="file",
    )
