"""Drum hits and other attacks are masked by sustained sounds.

## What it means
Sustained sounds mask much of each drum hit, or the drums are soft beside them. The audible share of each hit is estimated from masking,
the percussive share of the energy from a separation.

## Why it matters
Hits carry the rhythm, and what is half masked now is lost first when a limiter brings the sustained sound up.

## What to do
Raise the drums by a little, or the track that carries the beat. Where sustained sounds pile up in one region and mask them, cut there
first: raised drums raise the peaks. Stop when each hit is heard in the fullest passage.

## Check by ear
Play the fullest passage very softly and tap along with the snare: where you lose it, it is masked. Try the move there.

## Leave it alone when
The drums are meant to sit behind a wall of sound, or nothing in the song plays the part of drums.

## Sources
hits-survey, hits-trial, judgement, planted-faults, toole-olive-1988
"""

from dataclasses import dataclass
from math import log10, sqrt

from features.records.balance import Balance
from features.records.hits import Hits
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.bands import mean_between
from rules.shared.excess import missing, past, within
from rules.shared.spans import spans_of
from rules.shared.words import hertz

CUT_DB = 2.5
USUAL_AUDIBLE = 0.69  # about the middle of finished songs; docs/sources.md, hits-survey
USUAL_PERCUSSIVE = 0.35
DB_PER_SHARE = 33.0  # 6 dB on the drums moves the audible share by about 0.18 (hits-trial)
TWO_DECIBELS = 2.0 / DB_PER_SHARE  # on the drums, as the audible share shows them
REACHED = 0.6  # of a lift, as the share of the energy shows it: the parts are separated from one mix
LEAST_LIFT_DB, MOST_LIFT_DB = 2.0, 6.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    audible_share: float = limit(
        0.6, unit="share heard", low=0.2, high=0.95, source="hits-survey", says="when half of the hits are heard less, it is reported"
    )
    buried_share: float = limit(
        0.45, unit="share of hits", low=0.05, high=0.95, source="hits-survey", says="more hits that are more than half covered are reported"
    )
    percussive_share: float = limit(
        0.22, unit="share of energy", low=0.0, high=0.6, source="hits-survey", says="hits that hold less of the energy are reported as soft"
    )
    fewest_hits: float = limit(16.0, unit="hits", low=4.0, high=200.0, source="judgement", says="with fewer, the rule does not judge")
    fewest_per_second: float = limit(
        1.0, unit="hits per second", low=0.0, high=10.0, source="judgement", says="a song that strikes more seldom is not judged"
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
    """Tell whether the masking band lies above the target.

    By more than songs usually differ.
    """
    risen = mean_between(balance.third_octave_hz, balance.deviation_db, *band_hz)
    unusual = mean_between(balance.third_octave_hz, balance.unusual, *band_hz)
    as_a_whole = risen is not None and unusual is not None and risen >= least_db and unusual >= 1.0
    return as_a_whole or any(
        bell.gain_db >= least_db and bell.strength >= 2.0 and band_hz[0] <= bell.frequency_hz <= band_hz[1] for bell in balance.bells
    )


def sureness(covered: float, soft: float) -> tuple[Confidence, str]:
    """Return how sure the finding is.

    Two readings of the same masking are one witness, the energy of what strikes is another.
    """
    if covered > 0.0 and soft > 0.0:
        return (
            "medium",
            "hits are less audible than in most finished songs and hold less of the energy: two separate signs",
        )
    if covered > 0.0:
        return (
            "low",
            "hits hold as much energy as in many finished songs, and songs dense by intention read like this",
        )
    return "low", "hits hold little of the energy, but they are audible"


def lift_db(audible_share: float, percussive_share: float) -> float:
    """Return by how much to raise the percussive part.

    So that it is heard, and weighs, as in the usual finished song.
    """
    heard_db = DB_PER_SHARE * (USUAL_AUDIBLE - audible_share)
    strikes = max(percussive_share, 0.01)
    level_db = 10.0 * log10(USUAL_PERCUSSIVE / (1.0 - USUAL_PERCUSSIVE) * (1.0 - strikes) / strikes) if strikes < USUAL_PERCUSSIVE else 0.0
    return within(max(heard_db, level_db / REACHED), LEAST_LIFT_DB, MOST_LIFT_DB)


def not_judged(hits: Hits, limits: Limits) -> NotApplicable | None:
    """Return why the hits cannot be judged, if so."""
    if hits.count < limits.fewest_hits:
        return NotApplicable(f"only {hits.count} hits were found")
    if hits.count < limits.fewest_per_second * (hits.times_s[-1] - hits.times_s[0]):
        return NotApplicable("it strikes too seldom to carry a rhythm")
    return None


@rule(
    topic="masking",
    title="Drum hits are masked",
    message=(
        "{buried:.0%} of {count:.0f} hits are more than half masked. {audible:.0%} of the usual hit is audible. Hits hold "
        "{percussive:.0%} of the energy. {masker_share:.0%} of what is lost is in {low}-{high}{build_up}."
    ),
    advice="{move}.",
    stop="when every hit comes through in the fullest passage",
)
def check(hits: Hits, balance: Balance, limits: Limits) -> Finding | NotApplicable | None:
    """Compare how audible the hits are with the limits.

    The median hit, the share of covered hits, and the share of the energy that strikes.
    """
    left_out = not_judged(hits, limits)
    if left_out is not None:
        return left_out
    if hits.audible_share_median is None or hits.buried_share is None:
        return missing(hits, "audible_share_median")
    if hits.percussive_share is None:
        return missing(hits, "percussive_share")
    readings = [
        past(-hits.audible_share_median, -limits.audible_share, TWO_DECIBELS),
        past(hits.buried_share, limits.buried_share, 0.1),
        past(-hits.percussive_share, -limits.percussive_share, 0.04),
    ]
    if max(readings) <= 0.0:
        return None
    if hits.masking_band_hz is None or hits.masking_band_share is None:
        return missing(hits, "masking_band_hz")
    low_hz, high_hz = hits.masking_band_hz
    centre_hz = sqrt(low_hz * high_hz)
    q = within(centre_hz / (high_hz - low_hz), 0.5, 1.4)
    too_strong = builds_up(balance, (low_hz, high_hz), limits.build_up_db)
    cuts = too_strong and hits.percussive_share >= USUAL_PERCUSSIVE  # soft drums let any region beside them stand out
    confidence, sure_because = sureness(max(readings[:2]), readings[2])
    raised_db = lift_db(hits.audible_share_median, hits.percussive_share)
    raised = Remedy(kind="gain", part="percussive", gain_db=raised_db)
    cut = Remedy(kind="bell", part="sustained", frequency_hz=centre_hz, gain_db=-CUT_DB, q=q)
    cut_words = f"Cut {CUT_DB:.1f} dB around {hertz(centre_hz)}, Q {q:.1f}, in the sustained sounds"
    return Finding(
        excess=max(readings),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"buried": hits.buried_share, "count": hits.count, "audible": hits.audible_share_median,
                 "percussive": hits.percussive_share, "masker_share": hits.masking_band_share, "low": hertz(low_hz), "high": hertz(high_hz),
                 "build_up": ", where there is also a build-up" if too_strong else "",
                 "move": cut_words if cuts else f"Raise the drums and other hits by {raised_db:.1f} dB"},
        cause="excess" if cuts else "buried",
        where=spans_of(hits.worst),
        band_hz=(low_hz, high_hz),
        remedy=cut if cuts else raised,
        others=(raised if cuts else cut,),
        exact=True,
    )  # fmt: skip
