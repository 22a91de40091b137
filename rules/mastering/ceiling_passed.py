"""The finished file passes its true-peak ceiling.

## What it means
The wave between the samples rises above the ceiling that a release keeps to.

## Why it matters
The room under full scale is for converters and lossy encoders, which raise peaks and clip without it.

## What to do
Lower the limiter's ceiling, or the file, by the difference. Stop when the true peak stays under the ceiling.

## Check by ear
There is nothing to hear in the file itself; listen to it through a lossy encoder at a low rate.

## Leave it alone when
The file goes to a medium whose rules allow more.

## Sources
aes-td1008, ebu-r128, itu-bs1770
"""

from dataclasses import dataclass

from features.records.level import Level
from features.records.mastering import Release
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    tolerance_db: float = limit(
        0.1, unit="dB", low=0.0, high=1.0, source="itu-bs1770", says="a true peak this far above the ceiling is still taken as at it"
    )


@rule(
    topic="delivery",
    title="True peak over the ceiling",
    message="The true peak is {peak_dbtp:+.1f} dBTP, {over_db:.1f} dB above the {ceiling_dbtp:.1f} dBTP ceiling.",
    advice="Set the limiter's ceiling {over_db:.1f} dB lower and bounce again.",
    stop="when the true peak stays at {ceiling_dbtp:.1f} dBTP",
)
def check(release: Release, level: Level, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the true peak with the ceiling asked for."""
    if level.true_peak_dbtp is None:
        return missing(level, "true_peak_dbtp")
    over = level.true_peak_dbtp - release.ceiling_dbtp
    if over <= limits.tolerance_db:
        return None
    return Finding(
        excess=past(over, limits.tolerance_db, 0.5),
        confidence="high",
        sure_because="the true peak was measured as the standard says",
        numbers={"peak_dbtp": level.true_peak_dbtp, "over_db": over, "ceiling_dbtp": release.ceiling_dbtp},
        cause="peaks",
        remedy=Remedy(kind="gain", gain_db=-round(over + 0.05, 1)),
    )
