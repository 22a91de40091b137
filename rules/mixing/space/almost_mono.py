"""The song is almost mono.

## What it means
Left and right are nearly the same: hardly anything stands beside the centre.

## Why it matters
Elements that share one place cover each other; panning apart is a remedy that costs no level.

## What to do
Pan supporting parts in pairs, double the chords or backing voices to the sides, or give them a short stereo room. Stop while the
centre still holds kick, bass and lead.

## Check by ear
Switch between stereo and mono on headphones: if you cannot tell which is which, there is room to use.

## Leave it alone when
The song is meant for mono, or the narrow picture is its style.

## Sources
song-survey
"""

from dataclasses import dataclass
from math import log10

from features.records.balance import Target
from features.records.file import Health
from features.records.stereo import Stereo
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.bands import mean_between
from rules.shared.excess import missing, past
from rules.shared.sureness import usual_range

NARROWEST_DB = -30.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    correlation: float = limit(0.97, unit="-1 to 1", low=0.8, high=1.0, source="song-survey", says="a higher correlation is almost mono")
    side_share: float = limit(
        0.012, unit="share of the energy", low=0.0, high=0.1, source="song-survey", says="less side signal than this is almost mono"
    )


def as_narrow_as_usual(stereo: Stereo, target: Target) -> bool:
    """Return whether five references or more are hardly wider.

    Read as theirs: third octaves 200 Hz-8 kHz, none below -30 dB.
    """
    usual = usual_range(target, "width_db")
    sides_db = tuple(NARROWEST_DB if side_db is None else max(side_db, NARROWEST_DB) for side_db in stereo.band_side_db)
    width_db = mean_between(stereo.band_hz, sides_db, 190.0, 8100.0)
    return usual is not None and width_db is not None and width_db >= usual[0]


@rule(
    topic="space",
    title="Almost mono",
    message="Left and right are nearly the same: {side_share:.1%} of the energy is in the sides (correlation {correlation:.2f}).",
    advice="Pan supporting parts apart in pairs, or double chords to the sides.",
    stop="while kick, bass and lead still hold the centre",
)
def check(stereo: Stereo, health: Health, target: Target, limits: Limits) -> Finding | NotApplicable | None:
    """Ask that both correlation and side energy say so.

    Equal channels are a matter of the file. As narrow as references is let pass.
    """
    if health.identical_channels:
        return NotApplicable("left and right are the same, which is said of the file")
    if stereo.correlation is None or stereo.side_share is None:
        return missing(stereo, "correlation")
    if stereo.correlation <= limits.correlation or stereo.side_share >= limits.side_share or as_narrow_as_usual(stereo, target):
        return None
    return Finding(
        excess=past(10.0 * log10(limits.side_share / max(stereo.side_share, 1e-6)), 0.0, 3.0),
        confidence="low",
        sure_because="the width was measured; how wide a song should be is a matter of style",
        numbers={"side_share": stereo.side_share, "correlation": stereo.correlation},
        cause="lack",
    )
