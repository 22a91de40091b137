"""The song leans to one side.

## What it means
Over the whole song one channel is louder than the other.

## Why it matters
The picture leans, and a linked limiter works for the louder side while the other has room left.

## What to do
Look for a loud element that stands to one side without a partner and move it in. Only where kick and voice lean as well, lower the louder
side of the mix bus: done to a mix whose kick stands in the middle, it pushes the kick out of it. Stop when the voice, kick and bass stand
in the middle.

## Check by ear
On headphones, swap left and right on the mix bus: does the weight of the song change sides?

## Leave it alone when
The arrangement is lopsided on purpose, as with two instruments facing each other.

## Sources
judgement, song-survey, stereo-definitions
"""

from dataclasses import dataclass

from features.records.base import Course, Span
from features.records.stereo import Stereo
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past
from rules.shared.spans import MOST_SPANS, extreme_stretch


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    imbalance_db: float = limit(1.5, unit="dB", low=0.5, high=6.0, source="song-survey", says="a larger difference of loudness is reported")
    lasting_share: float = limit(
        0.6, unit="share of the time", low=0.3, high=1.0, source="judgement", says="a lean that lasts for less of the song is not reported"
    )


def lasting(course: Course, *, left: bool) -> float:
    """Return how lastingly the song leans to a side.

    The share of the playing time in which it does so by more than half a dB.
    """
    playing = [value for value in course.values if value is not None]
    leaning = [value for value in playing if (value if left else -value) > 0.5]
    return len(leaning) / len(playing) if playing else 0.0


def leaning_most(stereo: Stereo, *, left: bool) -> tuple[Span, ...]:
    """Return where it leans most."""
    return extreme_stretch(stereo.balance_over_time, 5.0, highest=left)[:MOST_SPANS]


@rule(
    topic="space",
    title="Left and right unbalanced",
    message="Over the whole song the {side} channel is {amount_db:.1f} dB louder. It is the louder one {share:.0%} of the time.",
    advice="Pan the loud track on the {side} inwards. Only where the kick leans too, lower that side by {amount_db:.1f} dB.",
    stop="when what belongs in the middle sits there",
    shared="lean",
)
def check(stereo: Stereo, limits: Limits) -> Finding | NotApplicable | None:
    """Report a lean that lasts, not a hard-panned moment."""
    if stereo.balance_db is None:
        return missing(stereo, "balance_db")
    left = stereo.balance_db > 0.0
    amount, share = abs(stereo.balance_db), lasting(stereo.balance_over_time, left=left)
    if amount <= limits.imbalance_db or share < limits.lasting_share:
        return None
    side = "left" if left else "right"
    return Finding(
        excess=past(amount, limits.imbalance_db, 1.0),
        confidence="high" if share > 0.85 else "medium",
        sure_because=f"it was measured over the whole song and lasts for {share:.0%} of it",
        numbers={"side": side, "amount_db": amount, "share": share},
        cause="lean",
        title=f"Mix leans {side} ({amount:.1f} dB)",
        where=leaning_most(stereo, left=left),
        remedy=Remedy(kind="gain", part=side, gain_db=-round(amount, 1)),
        exact=True,
    )
