"""The spectrum ends at a wall.

## What it means
Above one frequency there is suddenly nothing, as after a lossy encoder or a conversion from a lower sampling rate.

## Why it matters
The file looks complete but is not: some source was lossy or low-rate, and mastering will make that plainer.

## What to do
Find out whether the whole bounce or one main track comes from such a source, and replace it by the original. If only the export did it,
bounce again as WAV.

## Check by ear
Switch a low-pass at that frequency on and off: nothing changes, since nothing is there.

## Leave it alone when
All your sources are old samples that end there.

## Sources
delivery-practice, judgement, lossy-walls
"""

from dataclasses import dataclass

from features.records.file import File, Health
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.shared.excess import past
from rules.shared.words import hertz


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    wall_db: float = limit(25.0, unit="dB", low=10.0, high=80.0, source="judgement", says="a lower wall is taken for an ordinary roll-off")
    up_to_hz: float = limit(
        19500.0,
        unit="Hz",
        low=8000.0,
        high=22000.0,
        source="judgement",
        says="a wall above this is not reported, since hardly anybody hears that high",
    )
    lossy_up_to_hz: float = limit(
        15000.0,
        unit="Hz",
        low=8000.0,
        high=20000.0,
        source="lossy-walls",
        says="in a lossy file a wall above this is taken for its encoder's own",
    )


@rule(
    topic="delivery",
    title="Hard cut-off in the highs",
    message="Nothing is above {edge}. The level drops {wall_db:.0f} dB at once there, in a {rate_khz:g} kHz file.",
    advice="Replace the lossy or low-rate source, or bounce again as WAV.",
    stop="when the spectrum runs on above {edge}",
)
def check(health: Health, file: File, limits: Limits) -> Finding | NotApplicable | None:
    """Report a steep wall well below half the rate."""
    if health.silent:
        return NotApplicable("the file is silent")
    edge, wall, up_to = health.bandwidth_hz, health.bandwidth_wall_db, limits.lossy_up_to_hz if file.lossy else limits.up_to_hz
    if edge is None or wall is None or wall < limits.wall_db or edge > up_to:
        return None
    confidence: Confidence = "low" if file.lossy else "medium"
    because = "the cut-off was measured; it may come from the whole bounce or from one track"
    return Finding(
        excess=max(0.5, past(-edge, -up_to, 2000.0)),
        confidence=confidence,
        sure_because=because if not file.lossy else "the cut-off was measured; few encoders cut this low, except at a very low rate",
        numbers={"edge": hertz(edge), "wall_db": wall, "rate_khz": file.rate_hz / 1000.0},
        cause="file",
        title=f"Hard cut-off above {hertz(edge)}",
    )
