"""Lossy formats push the peaks over full scale.

## What it means
The file was encoded and decoded again at usual rates, and its true peak then passes full scale.

## Why it matters
Players that decode to whole numbers clip there, so a listener hears crackle that the master does not have.

## What to do
Lower the ceiling of the limiter to the value named, or drive less: dense masters overshoot most. Stop when no usual rate passes full scale.

## Check by ear
Encode the loudest chorus at the named rate and listen to the hits at the level of the master.

## Leave it alone when
The song is only released on media without lossy coding.

## Sources
aes-td1008, judgement
"""

from dataclasses import dataclass

from features.records.mastering import Release
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    over_dbtp: float = limit(0.1, unit="dBTP", low=-1.0, high=3.0, source="aes-td1008", says="a decoded true peak above this is reported")
    often: float = limit(
        10.0, unit="overs", low=1.0, high=1000.0, source="judgement", says="from this many places on, the finding is called sure"
    )


@rule(
    topic="delivery",
    title="Overs after lossy encoding",
    message=(
        "As {codec} at {kbps:.0f} kbit/s the true peak is {peak_dbtp:+.1f} dBTP, {raised_db:.1f} dB higher than in the "
        "file. It passes full scale in {overs:.0f} places."
    ),
    advice="Set the limiter's ceiling to {ceiling_dbtp:.1f} dBTP.",
    stop="when no usual rate passes full scale",
)
def check(release: Release, limits: Limits) -> Finding | NotApplicable | None:
    """Look at the worst of the formats."""
    if not release.coded or release.safe_ceiling_dbtp is None:
        return NotApplicable("no lossy format could be tried here")
    worst = max(release.coded, key=lambda coded: coded.true_peak_dbtp)
    if worst.true_peak_dbtp <= limits.over_dbtp:
        return None
    return Finding(
        excess=past(worst.true_peak_dbtp, limits.over_dbtp, 1.0),
        confidence="high" if worst.overs >= limits.often else "medium",
        sure_because="it was encoded and decoded here; other encoders at that rate differ by some tenths of a dB",
        numbers={
            "codec": worst.codec, "kbps": worst.kbps, "peak_dbtp": worst.true_peak_dbtp, "raised_db": worst.raised_db,
            "overs": float(worst.overs), "ceiling_dbtp": release.safe_ceiling_dbtp,
        },
        cause="peaks",
        remedy=Remedy(kind="gain", gain_db=-round(max(worst.true_peak_dbtp, 0.1), 1)),
    )  # fmt: skip
