"""One region is wider than mono can carry.

## What it means
In one region of the spectrum left and right work against each other for much of the time it plays.

## Why it matters
That region gets quieter or hollow in mono, and sounds unfocused on speakers.

## What to do
Find the widened track that lives there and narrow it, or take its chorus or widener back. Stop when the region keeps its level in mono.

## Check by ear
Band-pass that region on the mix bus and switch between stereo and mono: it must not sink.

## Leave it alone when
Only the tail of an effect lives there and may go in mono.

## Sources
mono-practice, song-survey, stereo-definitions
"""

from dataclasses import dataclass

from features.records.stereo import Stereo
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past, within
from rules.shared.words import hertz

LOWEST_HZ = 130.0  # below, the rule for a wide low end speaks


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    negative_share: float = limit(
        0.4, unit="share of the time", low=0.05, high=0.9, source="song-survey", says="a band against itself for longer is reported"
    )
    energy_share: float = limit(
        0.05,
        unit="share of the energy",
        low=0.005,
        high=0.3,
        source="mono-practice",
        says="bands with less of the song's energy are left out",
    )
    loss_db: float = limit(
        3.0, unit="dB", low=1.0, high=12.0, source="stereo-definitions", says="a band that loses less in mono is not reported"
    )


def how_far(stereo: Stereo, place: int, limits: Limits) -> float:
    """Return how far a band lies past its limits.

    0 unless past all of them: the reading that is least past its own decides.

    A band against itself does harm only as far as it carries part of the song and loses it in mono.
    """
    share, loses_db = stereo.band_negative_share[place], stereo.band_mono_loss_db[place]
    if share is None or loses_db is None or stereo.band_hz[place] <= LOWEST_HZ:
        return 0.0
    carries = past(stereo.band_energy_share[place], limits.energy_share, 0.02)
    return min(past(share, limits.negative_share, 0.15), past(loses_db, limits.loss_db, 1.0), carries)


@rule(
    topic="space",
    title="One band too wide",
    message="Around {frequency}, left and right work against each other {share:.0%} of the time. Mono loses {loss_db:.1f} dB there.",
    advice="Narrow the widest track around {frequency}, with less chorus or widener.",
    stop="when the band keeps its level in mono",
    shared="sides",
)
def check(stereo: Stereo, limits: Limits) -> Finding | NotApplicable | None:
    """Report the band that cancels longest.

    Among those that carry energy; the sustained share counts, never a minimum.
    """
    if stereo.correlation is None:
        return missing(stereo, "correlation")
    if stereo.polarity_inverted:
        return NotApplicable("one channel has inverted polarity")
    excess, place = max((how_far(stereo, place, limits), place) for place in range(len(stereo.band_hz)))
    share = stereo.band_negative_share[place]
    if excess <= 0.0 or share is None:
        return None
    loss_db = stereo.band_mono_loss_db[place] or 0.0
    hz, where = stereo.band_hz[place], stereo.band_worst[place]
    cut_db = within(loss_db / 2.0, 1.0, 4.0)
    return Finding(
        excess=excess,
        confidence="medium",
        sure_because="it lasts, and is no passing moment",
        numbers={"frequency": hertz(hz), "share": share, "loss_db": loss_db},
        cause="width",
        title=f"Too wide around {hertz(hz)}",
        where=() if where is None else (where,),
        band_hz=(hz / 2**0.5, hz * 2**0.5),
        remedy=Remedy(kind="bell", part="side", frequency_hz=hz, gain_db=-cut_db, q=1.4),
    )
