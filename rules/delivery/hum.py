"""Mains hum lies under the song.

## What it means
A steady tone at the mains frequency with its harmonics runs through the file, also where nothing plays.

## Why it matters
It muddies the lows, and compression and limiting raise it with everything quiet.

## What to do
Find the recorded track that brings it: solo the recordings in a pause. On the mix bus a cut would take the bass with it. Repair the
recording, or cut its lines with narrow bells there and close the pauses. Stop when the pauses are quiet.

## Check by ear
Turn up an empty bar or the tail: a low steady buzz.

## Leave it alone when
It belongs to the sound of an amplifier or an old recording you kept on purpose.

## Sources
delivery-practice, judgement
"""

from dataclasses import dataclass

from features.records.file import Health
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    level_dbfs: float = limit(-75.0, unit="dBFS", low=-110.0, high=-40.0, source="judgement", says="louder hum is reported")


@rule(
    topic="delivery",
    title="Mains hum",
    message="A steady {hum_hz:.0f} Hz hum and its harmonics run under the song at {hum_dbfs:.0f} dBFS.",
    advice="Repair or gate the recorded track that brings it, or notch the hum out there.",
    stop="when the pauses are quiet",
    shared="hum",
)
def check(health: Health, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the hum's level with the limit."""
    if health.silent:
        return NotApplicable("the file is silent")
    if health.hum_hz is None or health.hum_dbfs is None or health.hum_dbfs <= limits.level_dbfs:
        return None
    return Finding(
        excess=past(health.hum_dbfs, limits.level_dbfs, 10.0),
        confidence="medium",
        sure_because="it stays at one frequency, also where the song is quietest",
        numbers={"hum_hz": health.hum_hz, "hum_dbfs": health.hum_dbfs},
        cause="file",
        band_hz=(health.hum_hz * 0.9, health.hum_hz * 5.0),
    )
