"""Moments in which the ear's sensitive region jumps out.

## What it means
In some loud passages the share of loudness in 2 to 5 kHz rises well above what is usual in this song.

## Why it matters
The passages hurt although the song as a whole is balanced, so the listener turns all of it down.

## What to do
Go to the times given and find the track: often a sung vowel, a lead or an open cymbal. Lower it there with automation, or put a dynamic
equaliser on it that acts only in those moments. Stop when the passage no longer jumps out; the rest must stay untouched.

## Check by ear
Play from ten seconds before the worst passage at a firm level, and note whether you reach for the volume.

## Leave it alone when
The passage is the song's outburst and is meant to cut.

## Sources
iso-226, judgement, tone-survey
"""

from dataclasses import dataclass
from statistics import median

from features.records.ear import Ear
from features.records.spectrum import Spectrum
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.bands import band_level_dbfs
from rules.shared.excess import missing, past
from rules.shared.spans import spans_of

FREQUENCY_HZ = 3200.0
MOST_CUT_DB = 3.0
ABOVE_USUAL_DB = 3.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    rise: float = limit(
        0.15,
        unit="share of the loudness",
        low=0.03,
        high=0.3,
        source="tone-survey",
        says="a moment counts when this far above the song's median",
    )
    share: float = limit(
        0.42, unit="share of the loudness", low=0.15, high=0.6, source="tone-survey", says="a moment counts only above this share"
    )
    total_s: float = limit(2.0, unit="s", low=0.5, high=60.0, source="judgement", says="fewer seconds of it in all are not reported")


@rule(
    topic="tone",
    title="Harsh moments",
    message=(
        "For {total_s:.0f} s in all, 2-5 kHz jumps to up to {share:.0%} of the perceived loudness. In this song {usual:.0%} is usual."
    ),
    advice="Put a dynamic EQ at {frequency_hz:.0f} Hz on that track, down {cut_db:.0f} dB at most.",
    stop="when it no longer jumps out",
    shared="moments",
)
def check(ear: Ear, spectrum: Spectrum, limits: Limits) -> Finding | NotApplicable | None:
    """Add up the stretches far above the song's median."""
    shares = [value for value in ear.share.values if value is not None]
    if not shares:
        return missing(ear, "share")
    usual = median(shares)
    harsh = tuple(moment for moment in ear.harsh_moments if moment.value - usual > limits.rise and moment.value > limits.share)
    total_s = sum(moment.end_s - moment.start_s for moment in harsh)
    if total_s < limits.total_s:
        return None
    worst = max(moment.value for moment in harsh)
    level_dbfs = band_level_dbfs(spectrum, 1950.0, 5100.0)
    return Finding(
        excess=past(worst - usual, limits.rise, 0.1),
        confidence="low",
        sure_because="the song is compared with itself, but a change of arrangement may be meant",
        numbers={"total_s": total_s, "share": worst, "usual": usual, "frequency_hz": FREQUENCY_HZ, "cut_db": MOST_CUT_DB},
        cause="excess",
        where=spans_of(harsh),
        band_hz=(2000.0, 5000.0),
        remedy=Remedy(
            kind="dynamic_bell", frequency_hz=FREQUENCY_HZ, gain_db=-MOST_CUT_DB, q=1.0, attack_ms=5.0, release_ms=80.0,
            threshold_dbfs=None if level_dbfs is None else round(level_dbfs + ABOVE_USUAL_DB, 1),
        ),
    )  # fmt: skip
