"""The kick hardly rises above the sustained low end.

## What it means
When the kick hits, the level from 30 to 150 Hz rises by little over what it was just before.

## Why it matters
Without that rise the beat is felt less, and a limiter takes what is left of it first.

## What to do
Make room before you raise the kick: a cut in the bass where the kick is strongest, or a compressor on the bass that the kick triggers.
Stop as soon as every kick can be counted in the fullest passage.

## Check by ear
Play the fullest passage so softly that you hardly hear it, count the kicks, then switch the cut on and count again.

## Leave it alone when
The beat is carried by other drums, or the kick is meant to melt into the bass.

## Sources
judgement, low-end-practice
"""

from dataclasses import dataclass

from features.records.low_end import LowEnd
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past
from rules.shared.spans import spans_of

LOW_HZ = (30.0, 150.0)
CUT_DB = 3.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    lift_db: float = limit(3.0, unit="dB", low=1.0, high=8.0, source="low-end-practice", says="a kick that rises by less is reported")
    fewest_kicks: float = limit(16.0, unit="kicks", low=4.0, high=200.0, source="judgement", says="with fewer, the rule does not judge")
    sure_kicks: float = limit(64.0, unit="kicks", low=4.0, high=1000.0, source="judgement", says="from this many on, confidence is medium")


@rule(
    topic="low-end",
    title="Kick lost under the bass",
    message=("Each kick raises 30-150 Hz by only {lift_db:.1f} dB (median of {kicks:.0f} kicks). It is strongest at {kick_hz:.0f} Hz."),
    advice="Cut {cut_db:.0f} dB at {kick_hz:.0f} Hz in the bass, Q 1, or sidechain it to the kick by as much.",
    stop="when you can count every kick",
)
def check(low_end: LowEnd, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the kick's median rise with the limit.

    The least that is noticed.
    """
    if low_end.kick_count < limits.fewest_kicks:
        return NotApplicable(f"only {low_end.kick_count} hits of a kick were found")
    if low_end.kick_lift_db is None:
        return missing(low_end, "kick_lift_db")
    if low_end.kick_hz is None:
        return missing(low_end, "kick_hz")
    if low_end.kick_lift_db >= limits.lift_db:
        return None
    confidence: Confidence = "medium" if low_end.kick_count >= limits.sure_kicks else "low"
    return Finding(
        excess=past(-low_end.kick_lift_db, -limits.lift_db, 1.0),
        confidence=confidence,
        sure_because=f"measured at {low_end.kick_count} kicks, which may include plucked bass notes",
        numbers={"lift_db": low_end.kick_lift_db, "kicks": low_end.kick_count, "kick_hz": low_end.kick_hz, "cut_db": CUT_DB},
        cause="buried",
        where=spans_of(low_end.weakest_kicks),
        band_hz=LOW_HZ,
        remedy=Remedy(kind="bell", part="sustained", frequency_hz=low_end.kick_hz, gain_db=-CUT_DB, q=1.0),
    )
