"""Drum hits and other attacks are covered by what sustains.

## What it means
When something strikes, sounds that go on at the same time hide much of it. The share of each hit that stays audible is estimated from
masking.

## Why it matters
Hits carry the rhythm. What is half hidden now is lost first when a limiter brings the sustained sound up.

## What to do
Take a little of the band that covers them out of what sustains, such as pads, guitars, reverb or bass, before raising the drums: raised
drums raise the peaks. Stop when each hit is heard in the fullest passage; deeper cuts make the music thin.

## Check by ear
Play the fullest passage very softly and tap along with the snare: where you lose it, it is covered. Try the cut there.

## Leave it alone when
The drums are meant to sit behind a wall of sound.

## Sources
hits-survey, hits-trial, judgement, toole-olive-1988
"""

from dataclasses import dataclass
from math import sqrt

from features.measurements import Balance, Hits
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.readings import mean_between, missing, past, spans_of, within
from rules.remedy import Remedy
from rules.words import hertz

CUT_DB = 2.5


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    audible_share: float = limit(
        0.45, unit="share heard", low=0.2, high=0.95, source="hits-survey", says="when half of the hits are heard less, it is reported"
    )
    buried_share: float = limit(
        0.6, unit="share of hits", low=0.05, high=0.95, source="hits-survey", says="more hits that are more than half covered are reported"
    )
    fewest_hits: float = limit(16.0, unit="hits", low=4.0, high=200.0, source="judgement", says="with fewer, the rule does not judge")
    least_percussive: float = limit(
        0.2, unit="share of energy", low=0.0, high=0.6, source="hits-survey", says="a song that strikes less than this is not judged"
    )
    build_up_db: float = limit(
        1.5,
        unit="dB",
        low=0.5,
        high=6.0,
        source="toole-olive-1988",
        says="the covering band counts as too strong from here above the target",
    )


def builds_up(balance: Balance, band_hz: tuple[float, float], least_db: float) -> bool:
    """Tell whether the covering band itself stands above the target, by more than songs usually differ."""
    risen = mean_between(balance.third_octave_hz, balance.deviation_db, *band_hz)
    unusual = mean_between(balance.third_octave_hz, balance.unusual, *band_hz)
    as_a_whole = risen is not None and unusual is not None and risen >= least_db and unusual >= 1.0
    return as_a_whole or any(
        bell.gain_db >= least_db and bell.strength >= 2.0 and band_hz[0] <= bell.frequency_hz <= band_hz[1] for bell in balance.bells
    )


def sureness(median_excess: float, buried_excess: float) -> tuple[Confidence, str]:
    """Return how sure the finding is: two readings that agree say more than one."""
    if min(median_excess, buried_excess) > 0.0:
        return "medium", "the usual hit and the share of covered hits both lie past what about nine of ten finished songs have"
    return "low", "only one of two readings lies past its limit, the usual hit or the share of covered hits"


@rule(
    topic="masking",
    title="Hits are covered",
    message=(
        "{buried:.0%} of {count:.0f} hits are more than half covered, and of the usual hit {audible:.0%} is heard; "
        "{masker_share:.0%} of what is lost lies in {low}-{high}{build_up}."
    ),
    advice="Cut {cut_db:.1f} dB around {centre}, Q {q:.1f}, in what sustains there; stop when each hit is heard in the fullest passage.",
)
def check(hits: Hits, balance: Balance, t: Limits) -> Finding | NotApplicable | None:
    """Compare the median hit and the share of covered hits with their limits."""
    if hits.count < t.fewest_hits:
        return NotApplicable(f"only {hits.count} hits were found")
    if hits.percussive_share is not None and hits.percussive_share < t.least_percussive:
        return NotApplicable("little in the song strikes, so it need not be heard above the rest")
    if hits.audible_share_median is None or hits.buried_share is None:
        return missing(hits, "audible_share_median")
    median_excess = past(-hits.audible_share_median, -t.audible_share, 0.1)
    buried_excess = past(hits.buried_share, t.buried_share, 0.1)
    if max(median_excess, buried_excess) <= 0.0:
        return None
    if hits.masking_band_hz is None or hits.masking_band_share is None:
        return missing(hits, "masking_band_hz")
    low_hz, high_hz = hits.masking_band_hz
    centre_hz = sqrt(low_hz * high_hz)
    q = within(centre_hz / (high_hz - low_hz), 0.5, 1.4)
    too_strong = builds_up(balance, (low_hz, high_hz), t.build_up_db)
    confidence, sure_because = sureness(median_excess, buried_excess)
    return Finding(
        excess=max(median_excess, buried_excess),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"buried": hits.buried_share, "count": hits.count, "audible": hits.audible_share_median,
                 "masker_share": hits.masking_band_share, "low": hertz(low_hz), "high": hertz(high_hz), "centre": hertz(centre_hz),
                 "build_up": ", which also stands too strong in itself" if too_strong else "", "cut_db": CUT_DB, "q": q},
        cause="excess" if too_strong else "buried",
        where=spans_of(hits.worst),
        band_hz=(low_hz, high_hz),
        remedy=Remedy(kind="bell", part="sustained", frequency_hz=centre_hz, gain_db=-CUT_DB, q=q),
    )  # fmt: skip
