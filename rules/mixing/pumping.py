"""What sustains ducks after each kick.

## What it means
Everything that holds on, above the bass, dips after the kick and comes back: a compressor or limiter that reacts to the kick, or a
sidechain.

## Why it matters
A dip that does not belong to the groove is heard as breathing, and a limiter in mastering makes it deeper.

## What to do
If no sidechain is meant, raise the bus compressor's threshold, or put a high-pass into its sidechain so that the kick no longer drives it.
Stop when the pads stand still. A meant sidechain: leave its depth, and see that its release ends before the next kick.

## Check by ear
Listen to the pads or the reverb, not to the kick, at low volume: do they swing in a rhythm you did not write?

## Leave it alone when
The ducking is your sidechain and part of the groove, or the chords are played short, on the kick. Where other drums sound on between the
kicks, the real dip is deeper than the reading.

## Sources
judgement, pumping-trial
"""

from dataclasses import dataclass

from features.measurements import Hits, Pumping
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.readings import missing, past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    depth_db: float = limit(5.0, unit="dB", low=1.0, high=12.0, source="pumping-trial", says="a deeper dip is reported")
    share: float = limit(
        0.5, unit="share of the kicks", low=0.2, high=1.0, source="judgement", says="dips after fewer kicks than this are not reported"
    )


def keeps_time(pumping: Pumping, hits: Hits) -> bool:
    """Return whether the dip comes back within half a beat; the reading is the time to half, so the whole takes about a beat."""
    return hits.tempo_bpm is not None and pumping.recovery_ms is not None and pumping.recovery_ms <= 0.5 * 60_000.0 / hits.tempo_bpm


@rule(
    topic="dynamics",
    title="Pumping after the kick",
    message="What sustains dips by {depth_db:.1f} dB after {share:.0%} of the kicks{recovery}.",
    advice="Unless it is meant, high-pass the bus compressor's sidechain at 100 Hz or raise its threshold; stop when the pads stand still.",
)
def check(pumping: Pumping, hits: Hits, t: Limits) -> Finding | NotApplicable | None:
    """Report a dip that follows most kicks; one in step with the beat may be meant."""
    if pumping.depth_db is None or pumping.share_of_kicks is None:
        return missing(pumping, "depth_db")
    if pumping.depth_db <= t.depth_db or pumping.share_of_kicks < t.share:
        return None
    confidence: Confidence = "medium"
    because = "it follows most kicks, but does not come back in step with a beat, as a meant sidechain would"
    if keeps_time(pumping, hits):
        confidence, because = "low", "it comes back in step with the beat, as a meant sidechain does"
    return Finding(
        excess=past(pumping.depth_db, t.depth_db, 1.5),
        confidence=confidence,
        sure_because=because,
        numbers={
            "depth_db": pumping.depth_db, "share": pumping.share_of_kicks,
            "recovery": "" if pumping.recovery_ms is None else f" and is half back after {pumping.recovery_ms:.0f} ms",
        },
        cause="density",
        where=pumping.where[:3],
        band_hz=(250.0, 16000.0),
    )  # fmt: skip
