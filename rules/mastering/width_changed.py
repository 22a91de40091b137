"""The master is wider or narrower than the mix.

## What it means
The sides stand higher or lower against the centre than in the mix.

## Why it matters
A wider master loses more on one speaker and in clubs; a narrower one loses space. Level control alone changes width a little, since it
works on what is loudest, which is mostly in the centre.

## What to do
Compare at matched loudness. If it was not meant, bring the side level back; stop when voice and drums stand as far forward as in the mix.

## Check by ear
Switch between mix and master in stereo, then both in mono.

## Leave it alone when
The width was set on purpose and mono loses nothing that matters.

## Sources
judgement
"""

from dataclasses import dataclass

from features.records.mastering import Mastered
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    change_db: float = limit(
        1.5, unit="dB", low=0.5, high=12.0, source="judgement", says="side against mid that changed by more is reported"
    )


@rule(
    topic="space",
    title="Width changed in mastering",
    message=("The sides are {change_db:+.1f} dB against the centre, compared with the mix. The loss in mono changed by {mono_db:+.1f} dB."),
    advice="Unless you meant it, change the side level by {back_db:+.1f} dB.",
    stop="when voice and drums sit as in the mix",
)
def check(mastered: Mastered, limits: Limits) -> Finding | NotApplicable | None:
    """Compare side against mid before and after."""
    change = mastered.width_change_db
    if change is None:
        return NotApplicable("mix or master is mono, or one of them has no sides")
    if abs(change) <= limits.change_db:
        return None
    return Finding(
        excess=past(abs(change), limits.change_db, 1.0),
        confidence="high",
        sure_because="both were measured on the same stretch",
        numbers={"change_db": change, "mono_db": mastered.mono_loss_change_db or 0.0, "back_db": -change},
        cause="width",
        remedy=Remedy(kind="side_gain", gain_db=-round(change, 1)),
    )
