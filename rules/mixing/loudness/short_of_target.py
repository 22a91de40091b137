"""The limiter is heard before the target is reached.

## What it means
The mix was driven into a plain limiter in small steps, up to the loudness asked for. Before that, one of the readings of audible damage
tripped.

## Why it matters
What makes a limiter audible early lies in the mix: levels far apart, or peaks that one band or a few hits raise. Mastering cannot repair
it.

## What to do
Take down what the peaks are made of, a little at a time, and let the limiter try again. Work through the other findings of the mix first;
each of them may bring the target nearer. What lies below hearing goes first, with a high-pass filter: it takes room, and nothing is lost.
Stop when a limiter alone reaches it, or when the mix loses something you like.

## Check by ear
Put a limiter alone on the mix bus, raise its drive until it reaches the target, and compare with it bypassed at the same loudness.

## Leave it alone when
You prefer a quieter, more open master; loudness normalisation will not punish it.

## Sources
itu-bs1387, judgement, loudness-practice
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from math import sqrt

from features.records.crest import Crest
from features.records.outlook import Outlook
from rules.base import Cause, Confidence, Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past
from rules.shared.spans import spans_of
from rules.shared.words import hertz

STOPS = {
    "pumping": "There the limiter starts to pump",
    "distortion": "There the limiter starts to distort audibly",
    "hits": "There the drums lose their punch",
    "density": "Beyond that, more drive adds almost no loudness",
    "none": "The limiter was not driven further",
}
LOWEST_HZ = 20.0
BAND_CUT_DB = 2.0
HIGH_PASS_HZ = 15.0
OVER_ORDINARY_DB = 0.5
INTO_HITS_DB = 6.0
GLUE = Remedy(kind="compressor", part="percussive", ratio=2.0, attack_ms=30.0, release_ms=100.0, knee_db=6.0)


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    short_lu: float = limit(0.5, unit="LU", low=0.0, high=6.0, source="loudness-practice", says="a mix short by more than this is reported")
    one_band: float = limit(
        0.4, unit="share of the peaks", low=0.2, high=0.9, source="judgement", says="from here, a single octave is named as the cause"
    )
    two_bands: float = limit(
        0.55, unit="share of the peaks", low=0.3, high=0.95, source="judgement", says="from here, two neighbouring octaves are named"
    )
    stray_db: float = limit(
        3.0, unit="dB", low=1.0, high=12.0, source="judgement", says="rare peaks this far above the ordinary ones are named as the cause"
    )


@dataclass(frozen=True, slots=True)
class _Blame:
    """What the peaks are made of, and the move that follows from it."""

    cause: Cause
    peaks: str
    move: str
    band_hz: tuple[float, float] | None = None
    remedy: Remedy | None = None
    title: str | None = None


def dominating(outlook: Outlook, limits: Limits) -> tuple[float, float, float] | None:
    """Return the band that makes most of the peaks.

    Share, lower and upper edge of the octave, or else the two octaves; None if none does.
    """
    shares = [peak_share for peak_share in outlook.peak_share if peak_share.high_hz > LOWEST_HZ]
    single = [(peak_share.share, peak_share.low_hz, peak_share.high_hz) for peak_share in shares if peak_share.share >= limits.one_band]
    pairs = [(low.share + high.share, low.low_hz, high.high_hz) for low, high in pairwise(shares)]
    return max(single, default=None) or max((pair for pair in pairs if pair[0] >= limits.two_bands), default=None)


def inaudible(outlook: Outlook, limits: Limits) -> _Blame | None:
    """Return the blame of what lies below hearing.

    An offset or rumble, where it makes as much of the peaks as an octave must.
    """
    share = sum(peak_share.share for peak_share in outlook.peak_share if peak_share.high_hz <= LOWEST_HZ)
    if share < limits.one_band:
        return None
    return _Blame(
        "excess",
        f"{share:.0%} of the peaks to limit is DC offset or rumble below {LOWEST_HZ:.0f} Hz, which nobody hears",
        f"High-pass at {HIGH_PASS_HZ:.0f} Hz on the track that brings it in, or the mix bus",
        (LOWEST_HZ / 2.0, LOWEST_HZ),
        Remedy(kind="high_pass", frequency_hz=HIGH_PASS_HZ, order=2),
        "Inaudible rumble eats headroom",
    )


def blame(outlook: Outlook, crest: Crest, limits: Limits) -> _Blame:
    """Return the first that applies.

    What lies below hearing, one band, a few stray peaks, or hits and body that lie far apart.
    """
    unheard = inaudible(outlook, limits)
    if unheard is not None:
        return unheard
    band = dominating(outlook, limits)
    if band is not None:
        share, low_hz, high_hz = band[0], max(band[1], LOWEST_HZ), band[2]
        centre_hz = sqrt(low_hz * high_hz)
        q = round(centre_hz / (high_hz - low_hz), 2)
        return _Blame(
            "excess",
            f"{share:.0%} of the peaks to limit is in {hertz(low_hz)}-{hertz(high_hz)}",
            f"Cut {BAND_CUT_DB:.0f} dB around {hertz(centre_hz)}, Q {q:.1f}, on the track that is strongest there",
            (low_hz, high_hz),
            Remedy(kind="bell", frequency_hz=centre_hz, gain_db=-BAND_CUT_DB, q=q),
        )
    ordinary, stray = crest.ordinary_peak_dbfs, crest.stray_height_db
    if ordinary is not None and stray is not None and stray >= limits.stray_db:
        ceiling = round(ordinary + OVER_ORDINARY_DB, 1)
        return _Blame(
            "peaks",
            f"The peaks to limit are rare ones, up to {stray:.1f} dB above the ordinary ones",
            f"Catch them with a limiter whose ceiling is {ceiling:.1f} dBFS, on the track they come from",
            remedy=Remedy(kind="peak_limiter", ceiling_dbfs=ceiling),
        )
    threshold = None if ordinary is None else round(ordinary - INTO_HITS_DB, 1)
    return _Blame(
        "density",
        "The peaks to limit are spread over all bands",
        "Compress the drum bus 2:1, attack 30 ms, release 100 ms, by about 2 dB",
        remedy=None if threshold is None else replace(GLUE, threshold_dbfs=threshold),
    )


def sureness(outlook: Outlook, short_lu: float, limits: Limits) -> tuple[Confidence, str]:
    """Return how sure the finding is.

    What a second, faster limiter setting says about it; its shortfall is judged like the first's.
    """
    fast = outlook.fast_clean_lufs
    if fast is not None and outlook.target_lufs - fast <= limits.short_lu:
        return "low", f"a faster limiter setting reaches {fast:.1f} LUFS before it is heard"
    if fast is not None and short_lu >= 1.0:
        return "high", f"it was tried on this song, and a faster limiter setting stops at {fast:.1f} LUFS, short as well"
    return "medium", "it was tried on this song; other limiters reach a little more or less"


@rule(
    topic="loudness",
    title="Short of target loudness",
    message=(
        "This mix can be limited to {clean_lufs:.1f} LUFS before the limiter is heard. That is {short_lu:.1f} LU short of "
        "{target_lufs:.1f} LUFS. {stops}. {peaks}."
    ),
    advice="{move}.",
    stop="when a limiter alone reaches {target_lufs:.1f} LUFS cleanly, or when the mix loses something you like",
)
def check(outlook: Outlook, crest: Crest, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the clean loudness with the loudness asked for.

    And say what the peaks are made of.
    """
    if outlook.clean_lufs is None:
        return missing(outlook, "clean_lufs")
    short_lu = outlook.target_lufs - outlook.clean_lufs
    if short_lu <= limits.short_lu:
        return None
    why = blame(outlook, crest, limits)
    confidence, sure_because = sureness(outlook, short_lu, limits)
    return Finding(
        excess=past(short_lu, limits.short_lu, 1.0),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"clean_lufs": outlook.clean_lufs, "short_lu": short_lu, "target_lufs": outlook.target_lufs,
                 "stops": STOPS.get(outlook.stopped_by, STOPS["none"]), "peaks": why.peaks, "move": why.move},
        cause=why.cause,
        where=spans_of(outlook.hardest),
        band_hz=why.band_hz,
        remedy=why.remedy,
        title=why.title,
    )  # fmt: skip
