"""A limiter or clipper already works hard on the mix.

## What it means
The loud moments all end at nearly the same peak, as they do behind a limiter or a clipper, and the peaks stand low over the loudness.
After another sampling rate or an encoder they lie close together below a few that overshoot.

## Why it matters
Limiting twice adds up: what the first limiter took from the hits, mastering cannot give back, and it cannot choose a better setting
either.

## What to do
Bypass the limiter or clipper on the mix bus, leave compression that shapes the tone, and bounce again. Stop when the peaks differ from hit
to hit.

## Check by ear
Compare both bounces at the same loudness, at the snare: the one without it has more snap.

## Leave it alone when
This file is the finished master, or the limiter is part of the sound; then send both versions.

## Sources
delivery-practice, limiter-trial, conversion-trial
"""

from dataclasses import dataclass

from features.records.crest import Crest
from features.records.level import Level
from features.records.sections import Sections
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.clipping import CLUSTERED
from rules.shared.excess import missing, past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    pileup: float = limit(
        0.03,
        unit="share of loud moments",
        low=0.02,
        high=0.9,
        source="limiter-trial",
        says="more peaks at one height are a sign of a limiter",
    )
    cluster: float = limit(
        CLUSTERED,
        unit="share of loud moments",
        low=0.05,
        high=0.9,
        source="conversion-trial",
        says="more peaks close together below the top are one too: a conversion has spread what was flat",
    )
    psr_db: float = limit(
        12.0, unit="dB", low=5.0, high=14.0, source="limiter-trial", says="with a densest stretch above this it is not reported"
    )


@rule(
    topic="distortion",
    title="Mix is already limited",
    message=("{pileup:.0%} of the loud moments peak at one level. In the densest part, peaks are only {psr_db:.1f} dB above the loudness."),
    advice="Bypass the limiter or clipper on the mix bus and bounce again.",
    stop="when the peaks differ from hit to hit",
)
def check(crest: Crest, level: Level, sections: Sections, limits: Limits) -> Finding | NotApplicable | None:
    """Ask for both signs.

    Peaks at one height, and little room above the loudness.
    """
    if crest.peak_pileup_share is None:
        return missing(crest, "peak_pileup_share")
    if level.psr_densest_db is None:
        return missing(level, "psr_densest_db")
    share, enough = crest.peak_pileup_share, limits.pileup
    if share <= enough and crest.peak_cluster_share is not None:
        share, enough = crest.peak_cluster_share, limits.cluster
    if share <= enough or level.psr_densest_db >= limits.psr_db:
        return None
    return Finding(
        excess=past(share, enough, 0.06),
        confidence="high" if crest.peak_pileup_share > 2.0 * limits.pileup else "medium",
        sure_because="both signs agree: peaks at one level, and little headroom above the loudness",
        numbers={"pileup": share, "psr_db": level.psr_densest_db},
        cause="density",
        where=(sections.densest,),
    )
