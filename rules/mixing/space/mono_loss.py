"""The song loses level when it is played in mono.

## What it means
Left and right hold sound that cancels when both are added, as a phone, a club system or a kitchen radio does.

## Why it matters
What cancels gets quieter or disappears for these listeners, often the widest pads, doubled guitars or the reverb.

## What to do
Find the widened track: mute one after the other while listening in mono. Narrow it, or take the polarity flip or the widener's delay
off. Stop when the song in mono keeps all its elements.

## Check by ear
Switch the mix bus to mono at the named places: which element sinks away?

## Leave it alone when
Only an effect sinks, and the song stands in mono without it.

## Sources
mono-practice, song-survey, stereo-definitions
"""

from dataclasses import dataclass

from features.records.stereo import Stereo
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past, within
from rules.shared.spans import spans_of


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    loss_lu: float = limit(3.0, unit="LU", low=1.0, high=10.0, source="stereo-definitions", says="a larger loss is reported")


@rule(
    topic="space",
    title="Loses level in mono",
    message="In mono the song is {loss_lu:.1f} LU quieter. Unrelated left and right would lose 3.0 LU, a centred sound nothing.",
    advice="Lower the side signal by {cut_db:.1f} dB on the widest track.",
    stop="when nothing drops away in mono",
    shared="sides",
)
def check(stereo: Stereo, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the loudness lost in mono with the limit.

    A channel upside down is another rule's.
    """
    if stereo.mono_loss_db is None:
        return missing(stereo, "mono_loss_db")
    if stereo.mono_loss_db <= limits.loss_lu or stereo.polarity_inverted:
        return None
    cut_db = within(stereo.mono_loss_db, 2.0, 6.0)
    return Finding(
        excess=past(stereo.mono_loss_db, limits.loss_lu, 1.0),
        confidence="high",
        sure_because="the song was folded to mono and measured",
        numbers={"loss_lu": stereo.mono_loss_db, "cut_db": cut_db},
        cause="width",
        where=spans_of(stereo.worst),
        remedy=Remedy(kind="side_gain", part="side", gain_db=-cut_db),
    )
