"""The sound passes full scale between its samples.

## What it means
The wave between the samples, as a converter or an encoder rebuilds it, rises above full scale.

## Why it matters
Converters and lossy encoders clip there, which is heard as crackle on loud hits.

## What to do
Lower the mix bus fader until the true peak lies under the ceiling. A float file loses nothing above full scale; an integer file has lost
whatever its samples could not hold.

## Check by ear
Listen to the named places through a lossy encoder at a usual rate: the loudest hits turn rough.

## Leave it alone when
The file is a float bounce for mastering and will be turned down first.

## Sources
aes-td1008, ebu-r128, itu-bs1770
"""

from dataclasses import dataclass

from features.records.file import File
from features.records.level import Level
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import MOST_EXCESS, missing, past
from rules.shared.spans import spans_of

LIGHT = 0.5


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    ceiling_dbtp: float = limit(0.0, unit="dBTP", low=-6.0, high=3.0, source="itu-bs1770", says="a higher true peak is reported")
    leave_db: float = limit(1.0, unit="dB", low=0.0, high=6.0, source="ebu-r128", says="the room that the advice leaves below full scale")


def standing(file: File) -> tuple[str, Confidence, str, float]:
    """Return what the kind of file means for its overs.

    How sure that makes it, why, and the most that it may weigh.
    """
    if file.subtype in ("FLOAT", "DOUBLE"):
        return ". The file is float, so nothing is lost yet", "low", "a float file keeps peaks above full scale", LIGHT
    if file.lossy:
        return ". Lossy encoding itself raises peaks", "low", "peaks of a decoded lossy file are partly the encoder's own", LIGHT
    return "", "high", "the true peak was measured as the standard says", MOST_EXCESS


@rule(
    topic="delivery",
    title="True peak too high",
    message="The true peak is {peak_dbtp:+.1f} dBTP, {over_db:.1f} dB over {most}{kind}.",
    advice="Turn the mix bus down {turn_db:.1f} dB and bounce again.",
    stop="when the true peak stays under {room_dbtp:.1f} dBTP",
    shared="peaks",
)
def check(level: Level, file: File, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the true peak with the limit.

    In a float file nothing is lost yet.
    """
    if level.true_peak_dbtp is None:
        return missing(level, "true_peak_dbtp")
    if level.true_peak_dbtp <= limits.ceiling_dbtp:
        return None
    kind, confidence, because, most = standing(file)
    turn_db = level.true_peak_dbtp - limits.ceiling_dbtp + limits.leave_db
    return Finding(
        excess=min(past(level.true_peak_dbtp, limits.ceiling_dbtp, 1.0), most),
        confidence=confidence,
        sure_because=because,
        numbers={
            "peak_dbtp": level.true_peak_dbtp, "over_db": level.true_peak_dbtp - limits.ceiling_dbtp, "turn_db": turn_db,
            "room_dbtp": limits.ceiling_dbtp - limits.leave_db, "kind": kind,
            "most": f"{limits.ceiling_dbtp:.1f} dBTP" if limits.ceiling_dbtp else "full scale",
        },
        cause="clipping",
        where=spans_of(level.peaks_over_full_scale),
        remedy=Remedy(kind="gain", gain_db=-round(turn_db, 1)),
    )  # fmt: skip
