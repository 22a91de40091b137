"""The whole mix pulses at a period of its own.

## What it means
Sustained sounds go up and down by the same amount in every octave, at one steady period that no hit of the song falls in with.

## Why it matters
An arrangement moves with the beat; a gain that does not is a processor's. It is heard as breathing or fluttering, and a limiter deepens it.

## What to do
Bypass, one after another, what can move a level on the mix bus and its groups: a compressor keyed from another track, a tremolo or an
automatic pan, a modulated gain. Stop when held sounds keep their level. A compressor that is meant: give it the right key.

## Check by ear
Listen to a held chord or the reverb at low volume and count the swells: do they come at a speed that the drums do not have?

## Leave it alone when
It is a tremolo that you chose, or one swinging instrument is nearly all there is.

## Sources
judgement, pulse-trial
"""

from dataclasses import dataclass

from features.records.hits import Pulses
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past

BAND_HZ = (250.0, 16000.0)
CLEAR_DB = 0.5


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    swing_db: float = limit(1.5, unit="dB", low=0.5, high=12.0, source="pulse-trial", says="a wider swing is reported")
    alike: float = limit(
        0.85, unit="0 to 1", low=0.5, high=1.0, source="pulse-trial", says="octaves that move less alike are one instrument's own swing"
    )
    steady: float = limit(
        0.55, unit="0 to 1", low=0.3, high=1.0, source="pulse-trial", says="a pulse that changes more through the song is its rhythm"
    )
    clear: float = limit(0.75, unit="0 to 1", low=0.3, high=1.0, source="pulse-trial", says="a steadier pulse is more than a hint")


@rule(
    topic="dynamics",
    title="Level pulses on its own",
    message="Sustained sounds swing by {swing_db:.1f} dB every {period_s:.2f} s, all octaves together, out of step with the hits.",
    advice="Bypass tremolos and keyed compressors on the mix bus and groups one by one. Fix the one that makes it.",
    stop="when held notes keep their level",
)
def check(pulses: Pulses, limits: Limits) -> Finding | NotApplicable | None:
    """Report a pulse that the hits do not have."""
    if pulses.period_s is None or pulses.swing_db is None or pulses.alike is None or pulses.steady is None:
        return missing(pulses, "period_s")
    if pulses.swing_db <= limits.swing_db or pulses.alike < limits.alike or pulses.steady < limits.steady:
        return None
    clear = pulses.steady >= limits.clear and pulses.swing_db >= limits.swing_db + CLEAR_DB
    confidence: Confidence = "medium" if clear else "low"
    return Finding(
        excess=past(pulses.swing_db, limits.swing_db, 1.5),
        confidence=confidence,
        sure_because="no hit of the song keeps this period, and it lasts; only you know if a tremolo is meant",
        numbers={"period_s": pulses.period_s, "swing_db": pulses.swing_db},
        cause="density",
        band_hz=BAND_HZ,
        remedy=Remedy(kind="none"),
    )
