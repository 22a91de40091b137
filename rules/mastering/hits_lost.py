"""Mastering takes the hits away.

## What it means
The gain that mastering moved is lower at the drum hits than just before them, so they stand out less than in the mix.

## Why it matters
Hits carry punch and groove; what is taken from them is heard as a flat, tired song, not as loss of loudness.

## What to do
Drive the limiter less, or set a faster release; where the peaks are a few stray hits, take these down in the mix. Stop when the hits
stand out at the same loudness as they do in the mix.

## Check by ear
Play the loudest chorus of mix and master at matched loudness and follow only the snare.

## Leave it alone when
The softer attack is wanted, as in very dense music.

## Sources
judgement, ronan-2017
"""

from dataclasses import dataclass

from features.records.mastering import Mastered
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import past
from rules.shared.spans import spans_of


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    loss_db: float = limit(3.0, unit="dB", low=0.5, high=9.0, source="judgement", says="a median loss of lift beyond this is reported")
    share: float = limit(
        0.25,
        unit="share of the hits",
        low=0.05,
        high=0.9,
        source="judgement",
        says="a larger share of hits that lost about 3 dB is reported",
    )


@rule(
    topic="dynamics",
    title="Punch lost in mastering",
    message=(
        "{share:.0%} of the hits, counted by loudness, lost about 3 dB of punch or more. The typical loss in the densest "
        "part is {loss_db:.1f} dB{heard}."
    ),
    advice="Drive the limiter about {less_db:.0f} dB less, or set a faster release.",
    stop="when the hits punch as in the mix at the same loudness",
)
def check(mastered: Mastered, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the hits' lost lift with the limits.

    How much they lose, and how many of them.
    """
    loss, share = mastered.hit_loss_db, mastered.hits_lost_share
    if loss is None or share is None:
        return NotApplicable("no hits were found, or master and mix could not be compared")
    excess = max(past(loss, limits.loss_db, 1.5), past(share, limits.share, 0.25))
    if excess <= 0.0:
        return None
    before, after = mastered.hits_heard_before, mastered.hits_heard_after
    known = before is not None and after is not None
    return Finding(
        excess=excess,
        confidence="high" if mastered.explained_share >= 0.9 else "medium",
        sure_because=f"{mastered.explained_share:.0%} of the master is explained by a fixed EQ and the measured gain",
        numbers={
            "share": share, "loss_db": loss, "less_db": max(loss / 2, 1.0),
            "heard": f". {after:.0%} of each hit is audible (in the mix {before:.0%})" if known else "",
        },
        cause="buried",
        where=spans_of(mastered.worst_hits),
    )  # fmt: skip
