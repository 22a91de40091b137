"""The tops of the wave are cut off.

## What it means
Where the sound should rise on, several samples in a row stand at the same height: it was clipped, here or on a track.

## Why it matters
Cut tops are distortion that no later step removes, and a limiter makes them plainer.

## What to do
Find where it happens: a red channel, plug-in or bus, or a converter. Lower the level before that point and bounce again, with the mix bus
peaking around -3 to -6 dB. Stop when the flat tops are gone.

## Check by ear
Listen to the named places on headphones: crackle or a rough edge on the loudest hits. Zoom in: the tops are flat.

## Leave it alone when
You clip on purpose as a sound; then keep an unclipped bounce for mastering.

## Sources
clip-audibility, delivery-practice, judgement, conversion-trial
"""

from dataclasses import dataclass

from features.records.crest import Crest
from features.records.file import File, Health
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.shared.clipping import CLUSTERED
from rules.shared.excess import past
from rules.shared.spans import spans_of
from rules.shared.words import counted


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    runs_per_minute: float = limit(
        4.0, unit="runs a minute", low=0.1, high=1000.0, source="judgement", says="more flat tops than this are reported"
    )
    longest: float = limit(8.0, unit="samples", low=3.0, high=100.0, source="judgement", says="a single run this long is reported at once")
    converted: float = limit(
        CLUSTERED,
        unit="share of loud moments",
        low=0.05,
        high=0.9,
        source="conversion-trial",
        says="with more peaks close together below the top, a conversion may have rounded flat tops off, and none can be counted",
    )


@rule(
    topic="distortion",
    title="Clipped peaks",
    message="The waveform is clipped at {level_dbfs:.1f} dBFS: {tops}, up to {longest:.0f} samples long.",
    advice="Lower the level before the stage that clips. Bounce again, peaking at -3 to -6 dBFS.",
    stop="when no peak is flat",
    shared="tops",
)
def check(health: Health, file: File, crest: Crest, limits: Limits) -> Finding | NotApplicable | None:
    """Count flat tops over the length of the song."""
    if health.silent:
        return NotApplicable("the file is silent")
    if health.clipped_runs == 0 and (crest.peak_cluster_share or 0.0) > limits.converted:
        return NotApplicable("the peaks lie close together below the top: another rate or an encoder may have rounded flat tops off")
    per_minute = health.clipped_runs / max(file.duration_s / 60.0, 0.25)
    if health.clip_level_dbfs is None or (per_minute <= limits.runs_per_minute and health.clipped_longest < limits.longest):
        return None
    confidence: Confidence = "high" if per_minute > limits.runs_per_minute else "medium"
    return Finding(
        excess=max(
            0.5,
            past(per_minute, limits.runs_per_minute, 4.0 * limits.runs_per_minute),
            past(health.clipped_longest, limits.longest, limits.longest),
        ),
        confidence=confidence,
        sure_because="clipped peaks were counted sample by sample",
        numbers={
            "level_dbfs": health.clip_level_dbfs,
            "tops": counted(health.clipped_runs, "clipped peak"),
            "longest": float(health.clipped_longest),
        },
        cause="clipping",
        where=spans_of(health.clipped),
    )
