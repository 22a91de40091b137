"""The mix is already dense before mastering.

## What it means
Its peaks hardly stand above its loudness: the room that mastering would use is used up already.

## Why it matters
A limiter has nothing left to work with, and what was squeezed out of the hits cannot be put back later.

## What to do
Take the limiter, clipper or heavy compressor off the mix bus and bounce again; if none is there, ease the compression on the drum and music
groups. Stop when the hits open up and the peak meter moves again.

## Check by ear
Bounce once without the limiter or bus compressor, match both by ear in loudness and compare the snare: does the open one hit harder?

## Leave it alone when
This is a finished master, or the density is the sound you are after and no louder master is wanted.

## Sources
aes-psr, judgement, limiter-trial
"""

from dataclasses import dataclass

from features.records.crest import Crest
from features.records.level import Level
from features.records.sections import Sections
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.shared.excess import missing, past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    psr_db: float = limit(
        9.0, unit="dB", low=4.0, high=12.0, source="limiter-trial", says="a densest part with less peak over loudness (3 s) is dense"
    )
    plr_db: float = limit(
        10.0, unit="dB", low=5.0, high=14.0, source="limiter-trial", says="a song with less peak over its loudness is dense"
    )
    master_lufs: float = limit(
        -12.5, unit="LUFS", low=-16.0, high=-6.0, source="judgement", says="a dense file louder than this is taken for a master"
    )


@rule(
    topic="dynamics",
    title="Already dense before mastering",
    message=("Peak over loudness (3 s) is only {psr_db:.1f} dB in the densest part. Over the whole song it is {plr_db:.1f} dB{standing}."),
    advice="Take the limiter or heavy compressor off the mix bus and bounce again.",
    stop="when the drums open up at the same loudness",
)
def check(level: Level, crest: Crest, sections: Sections, limits: Limits) -> Finding | NotApplicable | None:
    """Ask that densest stretch and whole song are dense."""
    if level.psr_densest_db is None or level.plr_db is None or level.integrated_lufs is None:
        return missing(level, "psr_densest_db")
    if level.psr_densest_db >= limits.psr_db or level.plr_db >= limits.plr_db:
        return None
    master = level.integrated_lufs > limits.master_lufs
    confidence: Confidence = "low" if master else "high" if (crest.peak_pileup_share or 0.0) > 0.05 else "medium"
    because = "so loud a file may be a finished master, where this is normal" if master else "the densest part and the whole song agree"
    return Finding(
        excess=past(-level.psr_densest_db, -limits.psr_db, 1.5),
        confidence=confidence,
        sure_because=because,
        numbers={
            "psr_db": level.psr_densest_db, "plr_db": level.plr_db, "standing": ". It may be a finished master" if master else "",
        },
        cause="density",
        where=(sections.densest,),
    )  # fmt: skip
