"""Kick and bass sit in the same octave.

## What it means
Most of the kick and most of the bass lie at the same frequencies, and the bass stays as loud as it was while the kick sounds.

## Why it matters
They cover one another, so neither is heard clearly, and where they add up the peaks use up the limiter's room.

## What to do
Decide who owns the lowest octave. Cut the other there: the bass at the kick's frequency, or the kick at the bass's. Or let the kick duck
the bass by a few dB. Stop when both can be followed; a deeper cut only makes the bass thin.

## Check by ear
Loop four bars and mute the bass, then the kick: if the low end hardly changes either way, they sit on the same frequency.

## Leave it alone when
Kick and bass are one sound by design, such as a long tuned kick that plays the bass line.

## Sources
judgement, low-end-practice, low-end-survey
"""

from dataclasses import dataclass
from math import log2, sqrt

from features.records.low_end import LowEnd
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past
from rules.shared.spans import spans_of

CUT_DB = 3.0
ONE_SLOT_OCTAVES = 1.0  # strongest frequencies further apart than this do not share a slot, whatever their skirts do


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    overlap: float = limit(0.7, unit="share in common", low=0.3, high=0.95, source="low-end-practice", says="a larger overlap is reported")
    clear_lift_db: float = limit(
        5.0, unit="dB", low=2.0, high=15.0, source="low-end-survey", says="a kick that rises by more has room enough, whatever the overlap"
    )
    ducks_db: float = limit(1.5, unit="dB", low=0.5, high=6.0, source="judgement", says="a bass that ducks by more already makes room")
    fewest_kicks: float = limit(16.0, unit="kicks", low=4.0, high=200.0, source="judgement", says="with fewer, the rule does not judge")
    sure_kicks: float = limit(64.0, unit="kicks", low=4.0, high=1000.0, source="judgement", says="from this many on, confidence is medium")


@rule(
    topic="low-end",
    title="Kick and bass overlap",
    message=(
        "Kick ({kick_hz:.0f} Hz) and bass ({bass_hz:.0f} Hz) share {overlap:.0%} of their range. The kick rises only {lift_db:.1f} dB."
    ),
    advice="Cut {cut_db:.0f} dB at {kick_hz:.0f} Hz in the bass, Q 1.4, or sidechain it to the kick by as much.",
    stop="when you can follow both",
)
def check(low_end: LowEnd, limits: Limits) -> Finding | NotApplicable | None:
    """Ask for all three.

    Much in common, a kick that hardly rises, and a bass that does not duck.
    """
    if low_end.kick_count < limits.fewest_kicks:
        return NotApplicable(f"only {low_end.kick_count} hits of a kick were found")
    overlap, lift_db, kick_hz, bass_hz = low_end.slot_overlap, low_end.kick_lift_db, low_end.kick_hz, low_end.bass_hz
    if overlap is None:
        return missing(low_end, "slot_overlap")
    if lift_db is None or kick_hz is None or bass_hz is None:
        return NotApplicable("kick or bass could not be told apart from the rest")
    ducks = low_end.kick_dip_db is not None and low_end.kick_dip_db > limits.ducks_db
    apart = abs(log2(kick_hz / bass_hz)) > ONE_SLOT_OCTAVES
    if overlap <= limits.overlap or lift_db > limits.clear_lift_db or ducks or apart:
        return None
    return Finding(
        excess=min(past(overlap, limits.overlap, 0.1), past(-lift_db, -limits.clear_lift_db, 1.0)),
        confidence="medium" if low_end.kick_count >= limits.sure_kicks else "low",
        sure_because="in a stereo file, kick and bass differ only by how long they sound",
        numbers={"kick_hz": kick_hz, "bass_hz": bass_hz, "overlap": overlap, "lift_db": lift_db, "cut_db": CUT_DB},
        cause="buried",
        where=spans_of(low_end.weakest_kicks),
        band_hz=(kick_hz / sqrt(2.0), kick_hz * sqrt(2.0)),
        remedy=Remedy(kind="bell", part="sustained", frequency_hz=kick_hz, gain_db=-CUT_DB, q=1.4),
    )
