"""A broad rise of the spectrum that songs seldom have.

## What it means
A region about an octave wide stands higher than in the songs this one is compared with, after overall level and slope are taken out.

## Why it matters
A build-up masks its neighbours, and a low one also uses up the headroom a limiter needs.

## What to do
If the rise stands in everything alike, the listening room or the speakers are the usual cause: cut it on the mix bus. If it stands in one
part only, lower or cut the track that brings it. The cut named brings the region to where most songs have it; set half of it first and
listen, and take it back where the sound turns hollow.

## Check by ear
Loop the loudest of the passages and switch the cut on and off at the same loudness: what was masked must step forward, and nothing may
turn thin.

## Leave it alone when
That region is the song's character, such as a lead instrument that is meant to fill it.

## Sources
planted-faults, song-spread, tone-detection, toole-olive-1988
"""

from dataclasses import dataclass

from features.records.balance import Balance, Bell, Target
from rules.base import Finding, limit, rule
from rules.remedy import Remedy
from rules.shared.bands import mean_between
from rules.shared.bells import bell_cut_db, bell_edges, bell_slope, least_strength, region_off_db, standing_of
from rules.shared.excess import past
from rules.shared.spans import MOST_SPANS
from rules.shared.sureness import sure_of_bell
from rules.shared.words import BUILD_UPS, PART_WORDS, hertz, region

MOST_RISES = 2
LEANS_SPREADS = 2.0  # from here on the slope is told of by the rules about it
DARK_BELOW_HZ, BRIGHT_ABOVE_HZ = 1200.0, 2500.0
NO_SUB_DB, LOW_END_HZ = 8.0, 200.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    strength: float = limit(
        2.5, unit="spreads between songs", low=1.5, high=5.0, source="song-spread", says="a rise stronger than this is reported"
    )
    strength_everywhere: float = limit(
        2.0,
        unit="spreads between songs",
        low=1.0,
        high=5.0,
        source="song-spread",
        says="the same for a rise that every part of the mix has",
    )
    strength_in_general: float = limit(
        3.0,
        unit="spreads between songs",
        low=1.0,
        high=5.0,
        source="tone-detection",
        says="without references, a rise stronger than this is reported",
    )
    everywhere_in_general: float = limit(
        2.3, unit="spreads between songs", low=1.0, high=5.0, source="tone-detection", says="the same for a rise that every part has"
    )
    clear_in_general: float = limit(
        3.4,
        unit="spreads between songs",
        low=1.0,
        high=6.0,
        source="tone-detection",
        says="without references, a hint up to here",
    )
    audible_db: float = limit(1.5, unit="dB", low=0.5, high=6.0, source="toole-olive-1988", says="a smaller rise is not mentioned")


@rule(
    topic="tone",
    title="Build-up in one band",
    message="There is a build-up of about {rise_db:.1f} dB in the {region} around {frequency}, against {target_label}. {standing}.",
    advice="Cut {cut_db:.1f} dB around {frequency}, Q {q:.1f}, on {part}.",
    stop="when other sounds step forward, before it turns thin",
    shared="bump",
)
def check(balance: Balance, target: Target, limits: Limits) -> tuple[Finding, ...] | None:
    """Report the strongest broad rises.

    With references, held to a lower limit when every part of the mix has one.
    """
    rises = [
        (past(bell.strength, least_strength(bell, target, limits), 0.5), bell)
        for bell in balance.bells
        if bell.gain_db >= limits.audible_db and stands_out(bell, balance, target, limits) and not shoulder(bell, balance, target)
    ]
    clear = sorted((rise for rise in rises if rise[0] > 0.0), key=lambda rise: -rise[0])
    return tuple(finding_of(excess, bell, balance, target, limits) for excess, bell in clear[:MOST_RISES]) or None


def stands_out(bell: Bell, balance: Balance, target: Target, limits: Limits) -> bool:
    """Return whether the region itself lies above the target.

    Where the slope leans, also with the slope left in.

    At the edge of a cliff a rise explains what falls away beside it, and so does a slope that the cliff makes steep.
    """
    lean = balance.tilt_deviation_db_per_octave
    leans = lean is not None and abs(lean) >= LEANS_SPREADS * target.tilt_spread_db_per_octave
    above_db = mean_between(balance.third_octave_hz, balance.deviation_db, *bell_edges(bell.frequency_hz, bell.q))
    itself = not leans or above_db is None or above_db >= limits.audible_db
    return itself and region_off_db(balance, target, bell) >= limits.audible_db


def shoulder(bell: Bell, balance: Balance, target: Target) -> bool:
    """Return whether a rise is the shoulder of something else.

    Of a steep slope, or of lows that are missing: other rules report these.
    """
    lean = balance.tilt_deviation_db_per_octave
    if lean is not None:
        lean -= bell_slope(balance, bell)  # what is left of the lean without the rise itself
    if lean is not None and abs(lean) >= LEANS_SPREADS * target.tilt_spread_db_per_octave:
        return bell.frequency_hz < DARK_BELOW_HZ if lean < 0.0 else bell.frequency_hz > BRIGHT_ABOVE_HZ
    sub_db = mean_between(balance.third_octave_hz, balance.deviation_db, 31.0, 57.0)
    return sub_db is not None and sub_db <= -NO_SUB_DB and bell.frequency_hz < LOW_END_HZ


def finding_of(excess: float, bell: Bell, balance: Balance, target: Target, limits: Limits) -> Finding:
    """Describe one rise, with its cut.

    The one that brings it inside the target's tolerance.
    """
    part = "mix" if bell.parts_agree else bell.part
    confidence, sure_because = sure_of_bell(target, bell, clear=excess >= 1.0, clear_in_general=limits.clear_in_general)
    cut_db = bell_cut_db(balance, target, bell.frequency_hz, bell.q, bell.gain_db)
    return Finding(
        excess=excess,
        confidence=confidence,
        sure_because=sure_because,
        numbers={"region": region(bell.frequency_hz), "rise_db": bell.gain_db, "frequency": hertz(bell.frequency_hz), "cut_db": cut_db,
                 "target_label": target.label, "standing": standing_of(bell), "q": bell.q, "part": PART_WORDS[part]},
        cause="excess",
        where=bell.where[:MOST_SPANS],
        band_hz=bell_edges(bell.frequency_hz, bell.q),
        remedy=Remedy(kind="bell", part=part, frequency_hz=bell.frequency_hz, gain_db=-cut_db, q=bell.q),
        title=f"{BUILD_UPS[region(bell.frequency_hz)]} ({hertz(bell.frequency_hz)})",
        exact=True,
    )  # fmt: skip
