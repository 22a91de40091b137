"""One channel has inverted polarity.

## What it means
Left and right move against each other most of the time: where one pushes, the other pulls.

## Why it matters
In mono the song nearly vanishes, kick, bass and voice first; on speakers it sounds hollow and comes from nowhere.

## What to do
Flip the polarity of one channel where it was turned: a swapped cable, a polarity switch, a widener on the mix bus. Stop when the centre is
solid again.

## Check by ear
Switch to mono: the song gets thin and quiet; flip one channel: the bass and the voice come back.

## Leave it alone when
Hardly ever meant for a whole song; a single effect track may be.

## Sources
judgement, stereo-definitions
"""

from dataclasses import dataclass

from features.records.stereo import Stereo
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past
from rules.shared.spans import spans_of


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    correlation: float = limit(
        -0.3,
        unit="-1 to 1",
        low=-0.9,
        high=0.0,
        source="judgement",
        says="a song that is upside down and correlates below this is reported",
    )


@rule(
    topic="space",
    title="One channel has inverted polarity",
    message=(
        "Left and right move against each other through most of the song (correlation {correlation:.2f}). Ordinary songs are above 0."
    ),
    advice="Flip the polarity of the right channel where it was inverted.",
    stop="when bass and voice are solid in the centre",
    shared="sides",
)
def check(stereo: Stereo, limits: Limits) -> Finding | NotApplicable | None:
    """Report a lasting inversion, never a passing one."""
    if stereo.correlation is None:
        return missing(stereo, "correlation")
    if not stereo.polarity_inverted or stereo.correlation >= limits.correlation:
        return None
    return Finding(
        excess=max(1.0, past(-stereo.correlation, -limits.correlation, 0.2)),
        confidence="high",
        sure_because="it holds through most of the song and in most bands",
        numbers={"correlation": stereo.correlation},
        cause="polarity",
        where=spans_of(stereo.worst),
        remedy=Remedy(kind="polarity", part="right"),
    )
