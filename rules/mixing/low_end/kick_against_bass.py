"""Kick and bass cancel each other where they sound together.

## What it means
Where kick and bass sound at once, their sum below 150 Hz is softer than two unrelated sounds would be: one pushes while the other pulls.
Under a loud bass the sum hardly shows it; there what counts is how much of the kick's own wave the bass takes away.

## Why it matters
The low end is lost in the sum and no equaliser brings it back: raised, both only cancel harder.

## What to do
Flip the polarity of the bass, or move it by the delay named, whichever brings back more. Stop when the kick is full with the bass playing;
it costs nothing, so keep it only if it is heard.

## Check by ear
Loop the named passage in mono and flip the polarity of the bass while it plays: the fuller position is the right one.

## Leave it alone when
The bass is tuned and played so that its phase against the kick changes from note to note: then neither position is better.

## Sources
judgement, power-sums
"""

from dataclasses import dataclass

from features.records.elements import Elements, KickAndBass
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called, titled
from rules.shared.excess import past
from rules.shared.spans import MOST_SPANS

LOWS_HZ = (30.0, 150.0)
MANY_HITS = 16
NEARLY_ALL = 0.85  # of the kicks
CLEARLY_MORE_DB = 0.5
KICK_LOST = ("mixing/kick_does_not_stick_out", "mixing/kick_and_bass_in_one_slot", "mixing/bass_hides_kick", "mixing/buried_hits")


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    loss_db: float = limit(
        1.0, unit="dB", low=0.3, high=6.0, source="power-sums", says="a sum that falls this much short of unrelated sounds is reported"
    )
    won_db: float = limit(
        1.0, unit="dB", low=0.3, high=6.0, source="judgement", says="unless flipping or moving the bass brings this much, nothing is said"
    )
    kick_loss_db: float = limit(
        3.0,
        unit="dB",
        low=1.0,
        high=20.0,
        source="judgement",
        says="or where this much of the kick is taken away at nearly every kick, however loud the bass",
    )
    helps_share: float = limit(
        0.65,
        unit="share of kicks",
        low=0.5,
        high=1.0,
        source="judgement",
        says="flipping must help at this share of the kicks to be advised",
    )
    fewest_hits: float = limit(8.0, unit="kicks", low=2.0, high=100.0, source="judgement", says="with fewer, the rule does not judge")


def remedies(pair: KickAndBass, limits: Limits) -> list[tuple[float, str, Remedy]]:
    """Return what brings back enough, the easier one first.

    The other one first where it brings back clearly more. dB won, the move in words, the move.
    """
    flip = Remedy(kind="polarity", part=pair.bass)
    move = Remedy(kind="delay", part=pair.bass, delay_ms=round(pair.best_delay_ms, 2))
    later = "later" if pair.best_delay_ms > 0.0 else "earlier"
    name = called(pair.bass)
    ways = []
    if pair.flip_helps_share is None or pair.flip_helps_share >= limits.helps_share:
        ways.append((max(pair.flipped_gain_db - pair.sum_gain_db, _kick_won_db(pair, limits)), f"Flip the polarity of {name}", flip))
    if pair.best_delay_ms != 0.0:
        ways.append((pair.best_gain_db - pair.sum_gain_db, f"Move {name} {later} by {abs(pair.best_delay_ms):.2f} ms", move))
    enough = [way for way in ways if way[0] >= limits.won_db]
    return enough[::-1] if len(enough) > 1 and pair.best_gain_db > pair.flipped_gain_db + CLEARLY_MORE_DB else enough


def kick_lost_db(pair: KickAndBass) -> float:
    """Return how much of the kick the bass takes away.

    0 where they do not agree on it at nearly every kick.
    """
    steady = pair.flip_helps_share is not None and pair.flip_helps_share >= NEARLY_ALL
    return -pair.kick_left_db if steady and pair.kick_left_db is not None else 0.0


def _kick_won_db(pair: KickAndBass, limits: Limits) -> float:
    """Return what flipping the bass brings back of the kick, where the kick is what is lost."""
    lost_db = kick_lost_db(pair)
    return lost_db + (pair.kick_flipped_db or 0.0) if lost_db >= limits.kick_loss_db else 0.0


def sureness(pair: KickAndBass) -> tuple[Confidence, str]:
    """Return how sure the finding is.

    Many kicks that agree say more than few, or than some against others.
    """
    helps = pair.flip_helps_share
    agree = "" if helps is None else f"; reversed polarity sums better at {helps:.0%} of them"
    because = f"it was worked out at {pair.hits} kicks, as they are and with the bass flipped and moved{agree}"
    return ("high" if pair.hits >= MANY_HITS and (helps is None or helps >= NEARLY_ALL) else "medium"), because


@rule(
    topic="low-end",
    title="Kick and bass cancel",
    message=(
        "Below 150 Hz, {kick} and {bass} together are {loss_db:.1f} dB quieter than unrelated sounds would be ({hits:.0f} "
        "kicks){kick_lost}. {move_short} brings back {won_db:.1f} dB."
    ),
    advice="{move}.",
    stop="when the kick is full with the bass playing, and undo it if you hear no difference",
)
def check(elements: Elements, limits: Limits) -> Finding | NotApplicable | None:
    """Report a sum of kick and bass that falls short.

    Where flipping or delaying the bass mends it.
    """
    pair = elements.kick_and_bass
    if pair is None:
        return NotApplicable("there is no kick with a bass beside it")
    if pair.hits < limits.fewest_hits:
        return NotApplicable(f"the bass plays under only {pair.hits} kicks")
    ways = remedies(pair, limits)
    lost_db = kick_lost_db(pair)
    if (pair.sum_gain_db >= -limits.loss_db and lost_db < limits.kick_loss_db) or not ways:
        return None
    won_db, words, remedy = ways[0]
    confidence, sure_because = sureness(pair)
    return Finding(
        excess=max(past(-pair.sum_gain_db, limits.loss_db, 1.0), past(lost_db, limits.kick_loss_db, 2.0)),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"hits": pair.hits, "kick": called(pair.kick), "bass": called(pair.bass), "loss_db": max(-pair.sum_gain_db, 0.0),
                 "kick_lost": f". The kick loses {lost_db:.0f} dB" if lost_db >= limits.kick_loss_db else "",
                 "move_short": "Flipping the bass" if remedy.kind == "polarity" else "Moving the bass", "won_db": won_db, "move": words},
        cause="polarity",
        where=pair.where[:MOST_SPANS],
        band_hz=LOWS_HZ,
        remedy=remedy,
        title=f"{titled(pair.kick, 16)} and {titled(pair.bass, 16)} cancel",
        stem=pair.bass,
        others=tuple(way[2] for way in ways[1:]),
        explains=KICK_LOST,
    )  # fmt: skip
