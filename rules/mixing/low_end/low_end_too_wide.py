"""The low end is not in the middle.

## What it means
Below 120 Hz there is much difference between left and right, where most mixes have nearly the same sound on both sides.

## Why it matters
Played in mono, as on many loudspeakers that share one bass driver, part of the low end cancels, and the two sides ask for more of a
limiter's room.

## What to do
Find the track that is wide down there: a stereo synthesiser, a widener, a reverb or a doubled bass. Make its lows mono, or use a
mono-below tool on the mix bus. Stop raising that frequency as soon as mono loses no more low end.

## Check by ear
Switch the monitor to mono and back while the bass plays: its weight should hardly change.

## Leave it alone when
The wide low end is an effect for a moment, and the kick and bass below it are in the middle.

## Sources
low-end-practice, low-end-survey
"""

from dataclasses import dataclass
from math import inf

from features.records.balance import Target
from features.records.low_end import LowEnd
from features.records.stereo import Stereo
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.excess import missing, past
from rules.shared.spans import MOST_SPANS
from rules.shared.sureness import usual_range

BELOW_HZ = 120.0
NOTICED_LOSS_DB, WHOLE_LOSS_DB = 2.0, 3.0  # of the low end in mono; 3 dB is what sides without relation lose


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    side_level_db: float = limit(
        -4.5, unit="dB", low=-30.0, high=0.0, source="low-end-survey", says="more side signal than this is reported"
    )


def sureness(mono_loss_db: float) -> tuple[Confidence, str]:
    """Return how sure it is that the width does harm.

    What is lost in mono decides.
    """
    if mono_loss_db >= WHOLE_LOSS_DB:
        return "high", "it is measured directly, and mono loses as much as with unrelated sides"
    if mono_loss_db >= NOTICED_LOSS_DB:
        return "medium", "it is measured directly, and mono loses a noticeable amount"
    return "low", "it is measured directly, but mono loses little, so it may do no harm"


def excused_db(target: Target, mono_loss_db: float) -> float:
    """Return how wide a low end the references excuse.

    Five or more; what mono loses noticeably, only as far as most of them go.

    They differ so much in this reading that nearly all of their kind would lie within any width at all.
    """
    usual = usual_range(target, "low_width_db")
    if usual is None:
        return -inf
    return usual[1] if mono_loss_db < NOTICED_LOSS_DB else (usual[0] + usual[1]) / 2.0


@rule(
    topic="low-end",
    title="Low end too wide",
    message="Below 120 Hz the sides are at {side_db:+.1f} dB against the middle. Mono loses {loss_db:.1f} dB of low end.",
    advice="Make everything below {below_hz:.0f} Hz mono on the wide track or the mix bus.",
    stop="when mono loses no more low end",
    shared="sides",
)
def check(low_end: LowEnd, stereo: Stereo, target: Target, limits: Limits) -> Finding | NotApplicable | None:
    """Compare side with mid below 120 Hz.

    A channel upside down is another rule's. What five references or more do is let pass.
    """
    if stereo.polarity_inverted:
        return NotApplicable("one channel has inverted polarity")
    if low_end.side_level_db is None:
        return missing(low_end, "side_level_db")
    if low_end.mono_loss_db is None:
        return missing(low_end, "mono_loss_db")
    most_db = max(limits.side_level_db, excused_db(target, low_end.mono_loss_db))
    if low_end.side_level_db <= most_db:
        return None
    confidence, sure_because = sureness(low_end.mono_loss_db)
    return Finding(
        excess=past(low_end.side_level_db, most_db, 3.0),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"side_db": low_end.side_level_db, "loss_db": low_end.mono_loss_db, "below_hz": BELOW_HZ},
        cause="width",
        where=low_end.widest[:MOST_SPANS],
        band_hz=(20.0, BELOW_HZ),
        remedy=Remedy(kind="mono_below", part="side", frequency_hz=BELOW_HZ),
    )
