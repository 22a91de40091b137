"""A few peaks stand far above all others.

## What it means
Most hits of the song reach about the same level; a few rare ones stand well above it, or apart from all that follow: between them and
the next highest peak is a gap that a song's own peaks do not leave.

## Why it matters
Turned up to its highest peak, the whole song stays that much quieter for the sake of a few hits; a limiter that stops them pulls
everything else down at these moments, the voice and the bass with it.

## What to do
Find the track these hits are on and lower them there, by clip gain or with a limiter that has no make-up gain and rests the remaining
time. Stop when the meter no longer moves between the strays.

## Check by ear
Go to the named times with the peak meter in view: either one hit leaps out, or only the meter does. Lower it by a few dB: is it missed?

## Leave it alone when
These are the accents the song is built around, such as one big crash before the chorus.

## Sources
peak-practice, song-survey, stray-gap
"""

from dataclasses import dataclass

from features.records.crest import Crest
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past
from rules.shared.spans import spans_of
from rules.shared.words import counted

ABOVE_ORDINARY_DB = 0.5


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    height_db: float = limit(4.0, unit="dB", low=1.0, high=12.0, source="song-survey", says="strays that stand higher are reported")
    win_db: float = limit(
        2.0, unit="dB", low=0.5, high=12.0, source="stray-gap", says="strays that stand apart are reported when lowering them wins more"
    )


@rule(
    topic="dynamics",
    title="Stray peaks",
    message="{strays} {height_db:.1f} dB above the ordinary hits, which reach {ordinary_dbfs:.1f} dBFS.",
    advice="Turn these hits down on their track, or set a limiter without make-up gain to {ceiling_dbfs:.1f} dBFS.",
    stop="when it rests in between",
    shared="peaks",
)
def check(crest: Crest, limits: Limits) -> Finding | NotApplicable | None:
    """Report rare peaks that stand far out.

    High over the ordinary ones, or apart from all others.
    """
    if crest.ordinary_peak_dbfs is None:
        return missing(crest, "ordinary_peak_dbfs")
    top_db = max((moment.value for moment in crest.stray_peaks), default=0.0)
    win_db = crest.stray_win_db or 0.0
    lowest_db = min(limits.height_db, top_db - win_db) if win_db > limits.win_db else limits.height_db
    high = tuple(moment for moment in crest.stray_peaks if moment.value > lowest_db + 1e-6)
    if not high:
        return None
    ceiling = round(crest.ordinary_peak_dbfs + ABOVE_ORDINARY_DB, 1)
    return Finding(
        excess=max(past(top_db, limits.height_db, 1.5), past(win_db, limits.win_db, 1.0)),
        confidence="high",
        sure_because="every peak of the file was compared with the ordinary ones around it",
        numbers={
            "strays": counted(len(high), "rare peak is", "rare peaks reach up to"), "height_db": top_db,
            "ordinary_dbfs": crest.ordinary_peak_dbfs, "ceiling_dbfs": ceiling,
        },
        cause="peaks",
        where=spans_of(high),
        remedy=Remedy(kind="peak_limiter", ceiling_dbfs=ceiling),
    )  # fmt: skip
