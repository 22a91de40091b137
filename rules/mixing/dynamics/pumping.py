"""Sustained sounds duck after each kick.

## What it means
Sustained sounds above the bass dip after the kick and come back: a compressor or limiter that reacts to the kick, or a sidechain. Where
drums mask the dip, the recovery shows it: sounds left alone die away between hits, and here they swell after each kick.

## Why it matters
A dip that does not belong to the groove is heard as breathing, and a limiter in mastering makes it deeper.

## What to do
If no sidechain is meant, find the compressor that reacts to the kick, on the mix bus or a group. Raise its threshold, or put a high-pass
into its sidechain. Stop when the pads stand still. A meant sidechain: leave its depth, and see that its release ends before the next
kick.

## Check by ear
Listen to the pads or the reverb, not to the kick, at low volume: do they swing in a rhythm you did not write?

## Leave it alone when
The ducking is your sidechain and part of the groove, the chords are played short, on the kick, or the sustained sounds swell there by
themselves. Both readings see part of the real dip only.

## Sources
judgement, pumping-trial, rise-trial
"""

from dataclasses import dataclass

from features.records.hits import Hits, Pumping
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.shared.excess import missing, past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    depth_db: float = limit(5.0, unit="dB", low=1.0, high=12.0, source="pumping-trial", says="a deeper dip is reported")
    rise_db: float = limit(
        0.5,
        unit="dB",
        low=0.3,
        high=6.0,
        source="rise-trial",
        says="what rises further in the fifth of a second after the kick is reported",
    )
    share: float = limit(
        0.5, unit="share of the kicks", low=0.2, high=1.0, source="judgement", says="dips after fewer kicks than this are not reported"
    )


def keeps_time(pumping: Pumping, hits: Hits) -> bool:
    """Return whether the dip comes back within half a beat.

    The reading is the time to half, so the whole takes about a beat.
    """
    return hits.tempo_bpm is not None and pumping.recovery_ms is not None and pumping.recovery_ms <= 0.5 * 60_000.0 / hits.tempo_bpm


@rule(
    topic="dynamics",
    title="Pumping after the kick",
    message="{what}.",
    advice="Unless you meant it, find the compressor that the kick drives and raise its threshold.",
    stop="when the pads hold still",
)
def check(pumping: Pumping, hits: Hits, limits: Limits) -> Finding | NotApplicable | None:
    """Report a dip that follows most kicks, or its recovery.

    One in step with the beat may be meant.
    """
    if pumping.depth_db is None or pumping.share_of_kicks is None:
        return missing(pumping, "depth_db")
    dips = past(pumping.depth_db, limits.depth_db, 1.5) if pumping.share_of_kicks >= limits.share else 0.0
    rises = 0.0 if pumping.rise_db is None else past(pumping.rise_db, limits.rise_db, 1.0)
    if max(dips, rises) <= 0.0:
        return None
    confidence: Confidence = "medium"
    because = "it follows most kicks, but does not recover in time with the beat, as a sidechain would"
    if keeps_time(pumping, hits):
        confidence, because = "low", "it recovers in time with the beat, as a sidechain does"
    return Finding(
        excess=max(dips, rises),
        confidence=confidence,
        sure_because=because,
        numbers={"depth_db": pumping.depth_db, "share": pumping.share_of_kicks, "what": in_words(pumping, dips > 0.0, rises > 0.0)},
        cause="density",
        where=pumping.where[:3],
        band_hz=(250.0, 16000.0),
    )


def in_words(pumping: Pumping, dips: bool, rises: bool) -> str:
    """Return what was read: the dip, the rise, or both."""
    said = []
    if dips:
        back = "" if pumping.recovery_ms is None else f" and are half back after {pumping.recovery_ms:.0f} ms"
        said.append(f"Sustained sounds dip by {pumping.depth_db:.1f} dB after {pumping.share_of_kicks:.0%} of the kicks{back}")
    if rises:
        sounds = "They" if dips else "Sustained sounds"
        said.append(f"{sounds} swell by {pumping.rise_db:.1f} dB from 50 to 250 ms after each kick, instead of dying away")
    return ". ".join(said)
