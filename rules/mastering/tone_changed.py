"""The master has another tone than the mix.

## What it means
At the same loudness, a stretch of the spectrum stands higher or lower in the master than in the mix.

## Why it matters
Heard for long or beside other songs, a change of tone that nobody decided on makes a song harsh or dull. Louder and brighter both sound
better for the first minute.

## What to do
Compare both at the same loudness. If the change was not wanted, undo it with a broad equaliser at the end of the chain, or take back the
step that makes it; stop when the switch from one to the other is no longer heard as a change of colour.

## Check by ear
Switch between mix and master at matched loudness while the voice or the cymbals play, first loud, then very soft.

## Leave it alone when
The mastering engineer set this equaliser on purpose and the song gained by it.

## Sources
judgement, toole-olive-1988
"""

from dataclasses import dataclass
from math import sqrt

from features.records.mastering import Mastered
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import past, within
from rules.shared.words import hertz, region


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    change_db: float = limit(
        1.5, unit="dB", low=0.5, high=6.0, source="toole-olive-1988", says="a stretch of the spectrum that changed by more is reported"
    )
    tilt_db_per_octave: float = limit(
        0.4, unit="dB/octave", low=0.1, high=2.0, source="judgement", says="a slope that changed by more is reported"
    )


@rule(
    topic="tone",
    title="Tone changed in mastering",
    message=(
        "At the same loudness the master is {what}: {gain_db:+.1f} dB around {centre} ({low}-{high}). Its tilt changed by "
        "{tilt:+.1f} dB per octave."
    ),
    advice="Unless you meant it, EQ {back_db:+.1f} dB around {centre} at the end of the chain.",
    stop="when mix and master have the same tone at matched loudness",
)
def check(mastered: Mastered, limits: Limits) -> Finding | NotApplicable | None:
    """Look at the largest change and at the slope."""
    tilt = mastered.tilt_change_db_per_octave
    if tilt is None:
        return NotApplicable("the spectrum of mix or master could not be measured")
    if not mastered.tone_changes:
        return None
    most = mastered.tone_changes[0]
    excess = max(past(abs(most.gain_db), limits.change_db, 1.0), past(abs(tilt), limits.tilt_db_per_octave, 0.3))
    if excess <= 0.0:
        return None
    return Finding(
        excess=excess,
        confidence="high" if abs(most.gain_db) >= 2 * limits.change_db else "medium",
        sure_because="both were measured on the same stretch at matched loudness; only you know if it was meant",
        numbers={
            "what": kind_of(most.centre_hz, most.gain_db), "gain_db": most.gain_db, "centre": hertz(most.centre_hz), "tilt": tilt,
            "low": hertz(most.low_hz), "high": hertz(most.high_hz), "back_db": -most.gain_db,
        },
        cause="excess" if most.gain_db > 0 else "lack",
        band_hz=(most.low_hz, most.high_hz),
        remedy=Remedy(kind="bell", frequency_hz=most.centre_hz, gain_db=-round(most.gain_db, 1), q=_q(most.low_hz, most.high_hz)),
    )  # fmt: skip


def kind_of(centre_hz: float, gain_db: float) -> str:
    """Return what a change of tone is heard as.

    In a few words.

    >>> kind_of(8000.0, 2.0), kind_of(100.0, -2.0)
    ('brighter', 'thinner in the lows')
    """
    if centre_hz >= 4000.0:
        return "brighter" if gain_db > 0 else "darker"
    return f"{'fuller' if gain_db > 0 else 'thinner'} in the {region(centre_hz)}"


def _q(low_hz: float, high_hz: float) -> float:
    return round(within(sqrt(low_hz * high_hz) / (high_hz - low_hz), 0.3, 5.0), 2)
