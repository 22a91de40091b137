"""The low end cancels in mono.

## What it means
Below 120 Hz left and right are opposed. A phone, a kitchen radio and most club systems add them there, and what is opposed disappears.

## Why it matters
In a club, where the lows matter most, kick or bass are gone.

## What to do
Find the track with the opposed channels: a widener, a stereo bass sound, or a reversed cable. Flip the polarity of one of its channels, or
make it mono from one channel only; adding both would lose it too. Stop when the lows are as strong in mono as in stereo.

## Check by ear
Switch the mix bus to mono: do the lows get thinner?

## Leave it alone when
Never, if the song may be played in a club.

## Sources
elsewhere-survey, mono-practice
"""

from dataclasses import dataclass

from features.records.ear import Elsewhere
from features.records.stereo import Stereo
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called
from rules.shared.elsewhere import places
from rules.shared.excess import past

BAND_HZ = (20.0, 120.0)
MOST_OF_IT = 0.5
NOTICED_DB = 0.5  # of the song's lows: an element that loses its own without that is not what they are made of


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    loss_db: float = limit(6.0, unit="dB", low=3.0, high=20.0, source="elsewhere-survey", says="lows that lose more in mono are reported")


@rule(
    topic="low-end",
    title="Low end cancels in mono",
    message="In mono {what} loses {loss_db:.0f} dB below 120 Hz: left and right are opposed. So it is {places}.",
    advice="Flip the polarity of one channel of {part}, or make it mono from one channel.",
    stop="when the lows are as strong in mono as in stereo",
)
def check(elsewhere: Elsewhere, stereo: Stereo, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the low end lost in mono with the limit.

    A whole channel upside down is another rule's.
    """
    mono = [there for there in elsewhere.conditions if there.low_mono_loss_db is not None]
    if not mono:
        return NotApplicable("no listening condition in mono was chosen")
    carrying = [its for its in mono[0].elements if (its.low_lost_share or 0.0) >= MOST_OF_IT]
    song_db = max(there.low_mono_loss_db or 0.0 for there in mono)
    counts = bool(carrying) and carrying[0].main and song_db >= NOTICED_DB
    own_db = carrying[0].low_mono_loss_db or 0.0 if counts else 0.0
    loss_db = max(own_db, song_db)
    if loss_db <= limits.loss_db or stereo.polarity_inverted:
        return None
    name = carrying[0].name if carrying else None
    return Finding(
        excess=past(loss_db, limits.loss_db, 3.0),
        confidence="high" if loss_db >= limits.loss_db + 4.0 else "medium",
        sure_because="left and right were added and measured",
        numbers={
            "loss_db": loss_db,
            "places": places(mono[::-1][:2]),
            "what": "the song" if name is None or own_db < loss_db else called(name),
            "part": "the track that holds the lows" if name is None else called(name),
        },
        cause="polarity",
        band_hz=BAND_HZ,
        remedy=Remedy(kind="none", part=name or "mix"),
        stem=name,
        explains=("mixing/low_end_too_wide",),
    )
